// What comes before the table: the terms, the findings, the accounts of rows and cells.
function folded(summary, ...children) {
  return make("details", {}, make("summary", {}, summary), ...children);
}

function showTerms(data) {
  const terms = $("terms");
  if (data.exit.code && data.exit.reason) terms.append(make("p", {}, "Why: ", fileText(data.exit.reason)));
  if (data.looser.length) {
    const items = data.looser.map((entry) => make("li", {}, fileText(entry.what), make("br"), fileText(grant(entry), "span")));
    terms.append(make("div", { class: "looser" }, make("p", {}, make("b", {}, "Looser than the standard:")), make("ul", {}, ...items)));
  }
  if (data.rules.length) terms.append(make("h2", { class: "plain-head" }, "Rules in force"), make("ul", {}, ...data.rules.map((rule) => make("li", {}, fileText(rule)))));
  if (!data.looser.length) terms.append(make("p", { class: "aside" }, "No key of the job makes acceptance easier than the standard."));
  const doubt = data.unconfirmed;
  if (doubt.readings) {
    const head = `† ${doubt.readings.toLocaleString("en-US")} of ${count(doubt.of, "verdict", "verdicts")} rest on limits that nobody has yet confirmed in the document itself; they bear this mark.`;
    terms.append(folded(head, make("ul", {}, ...doubt.texts.map((text) => make("li", {}, fileText(text))))));
  }
  terms.append(make("h2", { class: "plain-head" }, "Cautions"), make("ul", {}, ...data.cautions.map((text) => make("li", {}, text))));
}

function grant(entry) {
  if (!entry.granted_by) return "Nobody on the owner's side is named as having granted this.";
  return `Granted by ${entry.granted_by}${entry.date ? `, ${entry.date}` : ""}${entry.reference ? `, ${entry.reference}` : ""}.`;
}

const FEW = 12;
const AT_FIRST = 4;
const ALIKE = 2; // more findings of one code stand together
function showFindings(data, act) {
  const section = $("findings");
  const titles = { error: "Errors: these stand against signing", warning: "Warnings: look at these", note: "Notes" };
  for (const severity of Object.keys(titles)) {
    const some = data.findings.map((finding, at) => [finding, at]).filter(([finding]) => finding.severity === severity);
    if (!some.length) continue;
    section.append(make("h3", {}, `${titles[severity]} (${some.length})`));
    const blocks = alike(some).map((group) => (group.length > ALIKE ? findingGroup(group, act) : findingBlock(...group[0], act)));
    const open = severity === "error" ? blocks.length : Math.max(AT_FIRST, blocks.length === AT_FIRST + 1 ? blocks.length : 0);
    section.append(...blocks.slice(0, open));
    if (blocks.length > open) section.append(folded(`${blocks.length - open} more`, ...blocks.slice(open)));
  }
  if (!data.findings.length) section.append(make("p", { class: "aside" }, "There are none."));
  if (rowsOf(data.batches)) section.append(batches(data));
  section.hidden = false;
}

// What cable and connections of like links really lose, with the interval of the fit, beside what one of them may.
function batches(data) {
  const b = readers(data.batches);
  const total = rowsOf(data.batches);
  const figure = (at, name, allowed, unit) => (b[name](at) === null ? "not told apart" : `${number(b[name](at))} (${number(b[`${name}_low`](at))} to ${number(b[`${name}_high`](at))}) ${unit}${b[allowed](at) === null ? "" : `, allowed ${number(b[allowed](at))}`}`);
  const lines = Array.from({ length: total }, (_, at) => make("tr", {}, cell(`${b.type(at)}, ${b.wavelength_nm(at)} nm, ${b.reference(at)}`), cell(String(b.links_used(at)), "number"),
    cell(figure(at, "attenuation_db_per_km", "coefficient_db_per_km", "dB/km")), cell(figure(at, "mating_loss_db", "mated_pair_db", "dB")), cell(figure(at, "splice_loss_db", "splice_db", "dB")), cell(String(b.links_off(at)), "number"), cell(b.note(at) ?? "")));
  const heads = ["Like links", "Links", "Cable", "One mating", "One splice", "Off the line", "Note"];
  return folded(`What cable and connections really lose: ${count(total, "batch", "batches")} of like links, 95 % intervals`, wide(sheet("batches", heads, lines, [1, 5])));
}

// Findings of one code together, where they are many, in the place of the first of them.
function alike(some) {
  const groups = new Map();
  for (const each of some) groups.set(each[0].code, [...(groups.get(each[0].code) ?? []), each]);
  return [...groups.values()].flatMap((group) => (group.length > ALIKE ? [group] : group.map((each) => [each])));
}
function findingGroup(group, act) {
  const [[first]] = group;
  const step = group.every(([finding]) => finding.next_step === first.next_step) ? first.next_step : "";
  const blocks = group.map(([finding, at]) => findingBlock({ ...finding, code: "", next_step: step ? "" : finding.next_step }, at, act));
  return make("div", { class: "finding group" }, make("p", {}, make("b", {}, `${count(group.length, "finding", "findings")} of one kind`), " ", make("span", { class: "code" }, first.code)),
    ...(step ? [make("p", { class: "next" }, fileText(step))] : []), ...blocks.slice(0, ALIKE), folded(`${group.length - ALIKE} more of them`, ...blocks.slice(ALIKE)));
}

function findingBlock(finding, at, act) {
  const block = make("div", { class: "finding" }, make("p", {}, fileText(finding.message), " ", make("span", { class: "code" }, finding.code)));
  if (finding.next_step) block.append(make("p", { class: "next" }, fileText(finding.next_step)));
  const { many, labels } = finding;
  if (many || finding.elsewhere.length) {
    const named = make("p", { class: "named" });
    for (const label of labels) named.append(linkAnchor(label));
    for (const label of finding.elsewhere.slice(0, FEW)) named.append(fileText(label));
    if (many > 1) named.append(make("button", { class: "plain", type: "button", on: { click: () => act.filterFinding(at) } }, `show ${many > labels.length ? "all " : "these "}${many.toLocaleString("en-US")} in the table`));
    block.append(named);
  }
  return block;
}

const linkAddress = (label) => `#link=${encodeURIComponent(label)}`;
function linkAnchor(label) {
  return make("a", { href: linkAddress(label) }, fileText(label));
}

const ACCOUNTS = [["rows", "rows"], ["cells", "cells of reading columns"]];
function showRecords(data, table) {
  const section = $("records");
  const files = readers(data.files);
  const total = rowsOf(data.files);
  const indexes = Array.from({ length: total }, (_, at) => at);
  const sum = (name) => indexes.reduce((whole, at) => whole + files[name](at), 0);
  for (const [key, words] of ACCOUNTS) {
    const [read, used, aside] = ["read", "used", "set_aside"].map((end) => sum(`${key}_${end}`));
    const fits = read === used + aside ? "" : " These numbers do not add up: do not rely on this page.";
    section.append(make("p", { class: fits ? "looser" : null }, `${read.toLocaleString("en-US")} ${words} read = ${used.toLocaleString("en-US")} used + ${aside.toLocaleString("en-US")} set aside.${fits}`));
  }
  const { held, left_out: unheld, most } = data.detail;
  if (unheld) section.append(make("p", { class: "looser" }, `This page holds ${held.toLocaleString("en-US")} of ${(held + unheld).toLocaleString("en-US")} readings: the worst of each link and parameter, because there are more than ${most.toLocaleString("en-US")}. All of them were judged; verdicts, margins and charts count all, and the JSON of the check holds them all.`));
  for (const words of detailWords(data.detail)) section.append(make("p", {}, words));
  section.append(folded(`${count(total, "file", "files")}, each with its SHA-256`, wide(inputsTable(files, indexes))));
  if (data.detail.set_aside) section.append(setAside(data, files, data.detail.set_aside, table));
  section.hidden = false;
}

// What the page holds of what was read, where it does not hold all.
function detailWords({ undrawn, most_links, raw, raw_of }) {
  const words = [];
  if (undrawn) words.push(`Of the links with curves the ${most_links} nearest to their limit bring theirs; ${count(undrawn, "more is", "more are")} judged the same way and not drawn.`);
  if (!raw_of) words.push("The files could not be read once more when this page was made, so it does not show their rows; each reading names its file, row and column.");
  else if (raw < raw_of) words.push(`The rows of the files, with every cell, come with ${raw.toLocaleString("en-US")} of ${count(raw_of, "link", "links")}: those that do not plainly pass, bear a mark or are named by a finding, the nearest to their limit first. Of the others each reading names its file, row and column.`);
  return words;
}

function inputsTable(files, indexes) {
  const account = (at, key) => `${files[`${key}_read`](at)} = ${files[`${key}_used`](at)} + ${files[`${key}_set_aside`](at)}`;
  const dialect = (at) => ["encoding", "delimiter", "decimal_mark"].map((name) => files[name](at)).filter((text) => text !== null).map((text) => (text === "\t" ? "tab" : text)).join("  ");
  const line = (at) =>
    make("tr", {}, cell(fileText(files.name(at))), cell([files.status(at), files.reason(at)].filter(Boolean).join(": ")), cell(account(at, "rows"), "number"),
      cell(account(at, "cells"), "number"), cell(files.furniture_rows(at), "number"), cell(dialect(at)), cell(files.sha256(at) ?? "", "hash"));
  const heads = ["File", "What became of it", "Rows read = used + set aside", "Cells read = used + set aside", "Titles, notes, blank rows", "Encoding, marks", "SHA-256"];
  return sheet("inputs", heads, indexes.map(line), [2, 3, 4]);
}

const MOST_ASIDE = 500;
function setAside(data, files, total, table) {
  let row = null;
  const place = (at) => [row.sheet(at), row.row(at) < 0 ? "whole file" : `row ${row.row(at)}`, row.col(at) < 0 ? null : `column ${letters(row.col(at))}`].filter(Boolean).join(", ");
  const lines = () => Array.from({ length: Math.min(total, MOST_ASIDE) }, (_, at) =>
    make("tr", {}, cell(fileText(files.name(row.file(at)))), cell(fileText(place(at))), cell(row.counts_as(at)), cell(fileText(row.reason(at) ?? row.code(at))), cell(fileText(row.text(at) ?? ""))));
  const holder = wide();
  const fold = folded(`${total.toLocaleString("en-US")} set aside: which, and why`, holder);
  fold.addEventListener("toggle", async () => {
    await table;
    if (holder.childElementCount) return;
    row = readers(data.set_aside);
    holder.append(sheet("aside-rows", ["File", "Place", "Counts as", "What is wrong and how to mend it", "As written"], lines()));
    if (total > MOST_ASIDE) holder.append(make("p", { class: "aside" }, `The first ${MOST_ASIDE} of ${total.toLocaleString("en-US")} are listed; the JSON of the check holds them all.`));
  });
  return fold;
}

function cell(content, kind = null) {
  const inside = content instanceof Node && content.textContent ? content : content instanceof Node ? "" : String(content ?? "");
  return make("td", { class: kind }, inside);
}
function sheet(kind, heads, lines, numeric = []) {
  const head = make("tr", {}, ...heads.map((text, at) => make("th", { scope: "col", class: numeric.includes(at) ? "number" : null }, text)));
  for (const line of lines) [...line.children].forEach((box, at) => { box.dataset.name ??= heads[at]; });
  return make("table", { class: `sheet ${kind}` }, make("thead", {}, head), make("tbody", {}, ...lines));
}
