// Small tools. Text that came from a file is only ever set as textContent, never as markup.
const MINUS = "\u2212";
const $ = (id) => document.getElementById(id);

function make(tag, options = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(options)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "class") element.className = value;
    else if (name === "on") for (const [event, act] of Object.entries(value)) element.addEventListener(event, act);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}
// What is wider than the screen scrolls sideways by itself; only while it does is it a stop for the keyboard.
const overflow = new ResizeObserver((entries) => {
  for (const { target } of entries) {
    const box = target.classList.contains("wide") ? target : target.parentElement;
    const scrolls = box.scrollWidth > box.clientWidth;
    for (const [name, value] of [["tabindex", "0"], ["role", "group"], ["aria-label", "Table, wider than the screen"]]) {
      if (scrolls) box.setAttribute(name, value);
      else box.removeAttribute(name);
    }
  }
});
function wide(...children) {
  const box = make("div", { class: "wide" }, ...children);
  overflow.observe(box);
  for (const child of children) overflow.observe(child);
  return box;
}
// Text of a file: kept apart from its surroundings, so that a label written right to left does not turn the sentence.
const fileText = (text, tag = "bdi") => make(tag, { class: "file-text", dir: tag === "bdi" ? null : "auto" }, String(text));

// Two decimals, rounded as the rest of the product rounds: an exact half goes to the even digit. A number that would
// round to zero keeps its first digit, so that no 0.00 hides a miss; within 1e-9 it is zero, as in judging.
function number(value, decimals = 2) {
  if (value === null || value === undefined) return "";
  const size = Math.abs(value) <= 1e-9 ? 0 : Math.abs(value);
  const scaled = size * 10 ** decimals;
  const half = Number.isInteger(size * 8) && scaled % 1 === 0.5;
  let text = half ? ((2 * Math.round(scaled / 2)) / 10 ** decimals).toFixed(decimals) : size.toFixed(decimals);
  if (Number(text) === 0 && size !== 0) text = Number(size.toPrecision(1)).toFixed(Math.ceil(-Math.log10(size)));
  return value < 0 && size !== 0 ? MINUS + text : text;
}
const count = (n, one, many) => `${n.toLocaleString("en-US")} ${n === 1 ? one : many}`;
const withUnit = (text, unit) => (text && unit ? `${text} ${unit}` : text);

function letters(col) {
  let text = "";
  for (let left = col + 1; left > 0; left = Math.floor((left - 1) / 26)) text = String.fromCharCode(65 + ((left - 1) % 26)) + text;
  return text;
}

// A column is a list, or words and codes; either way it is read by row.
function reader(column) {
  if (Array.isArray(column)) return (row) => column[row];
  const { words, codes } = column;
  return (row) => (codes[row] < 0 ? null : words[codes[row]]);
}
function readers(table, skip = []) {
  const made = {};
  for (const name of Object.keys(table)) if (!skip.includes(name)) made[name] = reader(table[name]);
  return made;
}
function rowsOf(table) {
  const column = Object.values(table)[0];
  return Array.isArray(column) ? column.length : column.codes.length;
}

async function unpack(id) {
  const text = $(id).textContent.trim();
  const bytes = Uint8Array.fromBase64 ? Uint8Array.fromBase64(text) : Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  $(id).remove();
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).text();
}
