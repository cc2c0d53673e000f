// Reviewers' marks: those that came with the analysis, those that a file brought, those made here. They are laid on the
// links by the rules of the next check: a mark holds while the fingerprint of its link is the same, the last mark of a
// reviewer replaces his earlier ones, and two reviewers who differ are a conflict. A mark changes no verdict.
const MARKS_FORMAT = "cableproof-marks/1";
const MARK_KEYS = ["link", "mark", "note", "name", "at", "fingerprint"];
const MARK_WORDS = { accept: "accepted", query: "queried", retest: "to be tested again" };
const STATE_WORDS = { holds: "", conflict: "conflict: reviewers differ, none of their marks counts", replaced: "replaced by a later mark", lapsed: "lapsed: readings or files of this link changed since", "no such link": "no such link here" };
const MARKS_BYTES = 20000000;

function reviewMarks(page) {
  const { data, links } = page;
  const given = data.marks.map((mark) => ({ ...mark, given: true }));
  let own = [];
  let laid = new Map();
  let all = [];
  const rowOf = new Map();
  range(0, rowsOf(data.links)).forEach((link) => { if (!rowOf.has(links.label(link))) rowOf.set(links.label(link), link); });
  const store = `cableproof-marks:${location.pathname}`;
  const same = (mark) => JSON.stringify(MARK_KEYS.map((key) => mark[key]));

  function lay() {
    const one = new Map();
    for (const mark of [...given, ...own]) if (!one.has(same(mark))) one.set(same(mark), { ...mark });
    all = [...one.values()];
    laid = new Map();
    for (const mark of all) {
      mark.row = rowOf.get(mark.link) ?? -1;
      mark.state = mark.row < 0 ? "no such link" : mark.fingerprint === links.fingerprint(mark.row) ? "holds" : "lapsed";
      if (mark.row >= 0) laid.set(mark.row, [...(laid.get(mark.row) ?? []), mark]);
    }
    for (const some of laid.values()) {
      const last = new Map();
      for (const mark of some.filter((each) => each.state === "holds")) if (!last.has(mark.name) || mark.at >= last.get(mark.name).at) last.set(mark.name, mark);
      for (const mark of some) if (mark.state === "holds" && last.get(mark.name) !== mark) mark.state = "replaced";
      if (new Set([...last.values()].map((mark) => mark.mark)).size > 1) for (const mark of last.values()) mark.state = "conflict";
    }
  }
  // One word for a link: what holds, else that reviewers differ, else that a mark has lapsed.
  function word(link) {
    const some = laid.get(link);
    if (!some) return null;
    if (some.some((mark) => mark.state === "conflict")) return "conflict";
    return some.find((mark) => mark.state === "holds")?.mark ?? "lapsed";
  }
  function changed(rows) {
    lay();
    keep();
    showMarks(page);
    page.table?.remark(rows);
  }
  function keep() {
    try {
      if (own.length) localStorage.setItem(store, JSON.stringify(own));
      else localStorage.removeItem(store);
      page.marksKept = true;
    } catch { page.marksKept = false; }
  }
  function recall() {
    try { own = parseMarks(localStorage.getItem(store) ?? '{"format":"cableproof-marks/1","marks":[]}', "marks kept in this browser", true); page.marksKept = true; } catch { own = []; page.marksKept = false; }
  }
  recall();
  lay();
  return {
    word, all: () => all, of: (link) => laid.get(link) ?? [], any: () => all.length > 0, own: () => own.length,
    add(link, mark, note, name) {
      own.push({ link: links.label(link), mark, note, name, at: `${new Date().toISOString().slice(0, 19)}Z`, fingerprint: links.fingerprint(link) ?? "" });
      changed([link]);
    },
    remove(mark) {
      own = own.filter((each) => same(each) !== same(mark));
      changed(mark.row < 0 ? [] : [mark.row]);
    },
    load(text, name) {
      const before = all.length;
      own = [...own, ...parseMarks(text, name)];
      changed(null);
      return all.length - before;
    },
    text: () => `${JSON.stringify({ format: MARKS_FORMAT, marks: all.map((mark) => Object.fromEntries(MARK_KEYS.map((key) => [key, mark[key]]))) }, null, 1)}\n`,
  };
}

// The marks of a file, or one sentence that says what is wrong with it.
function parseMarks(text, name, kept = false) {
  let read;
  try { read = JSON.parse(text.replace(/^\ufeff/, "")); } catch { throw new Error(`${name} is no JSON; save the marks again from the page.`); }
  const list = kept && Array.isArray(read) ? read : read?.format === MARKS_FORMAT ? read.marks : null;
  if (!Array.isArray(list)) throw new Error(`${name} is no file of marks (format ${MARKS_FORMAT}).`);
  return list.map((entry, at) => {
    const mark = Object.fromEntries(MARK_KEYS.map((key) => [key, entry?.[key] ?? ""]));
    if (!MARK_KEYS.every((key) => typeof mark[key] === "string") || !mark.link || !mark.name) throw new Error(`${name}: mark ${at + 1} does not name a link and who marked it.`);
    if (!Object.hasOwn(MARK_WORDS, mark.mark)) throw new Error(`${name}: mark ${at + 1} (${mark.link}) is “${mark.mark}” and not one of ${Object.keys(MARK_WORDS).join(", ")}.`);
    return mark;
  });
}

// "Of 4 that fail: 2 accepted by A. Reviewer": beside the answer, which stays what it is.
function markedWords(page) {
  const said = { fail: ["that fails", "that fail"], incomplete: ["that is incomplete", "that are incomplete"], marginal: ["that is marginal", "that are marginal"], pass: ["that passes", "that pass"] };
  return Object.keys(said).flatMap((verdict) => {
    const here = page.marks.all().filter((mark) => mark.state === "holds" && page.links.verdict(mark.row) === verdict);
    const parts = Object.entries(MARK_WORDS).flatMap(([kind, words]) => {
      const some = here.filter((mark) => mark.mark === kind);
      return some.length ? [`${new Set(some.map((mark) => mark.row)).size.toLocaleString("en-US")} ${words} by ${[...new Set(some.map((mark) => mark.name))].join(", ")}`] : [];
    });
    const many = page.data.totals[verdict];
    return parts.length ? [`Of ${many.toLocaleString("en-US")} ${said[verdict][many === 1 ? 0 : 1]}: ${parts.join("; ")}.`] : [];
  });
}

function showMarks(page) {
  const { marks } = page;
  const words = markedWords(page);
  $("marked").replaceChildren(...words.map((text) => make("p", {}, fileText(text))));
  if (words.length) $("marked").append(make("p", { class: "aside" }, "Marks are a reviewer's word; they change no verdict."));
  const amount = (state) => marks.all().filter((mark) => mark.state === state).length;
  const states = [["holds", amount("holds") === 1 ? "counts" : "count"], ["conflict", "in conflict"], ["lapsed", "lapsed"], ["replaced", "replaced by later ones"], ["no such link", "about links that are not here"]].filter(([state]) => amount(state));
  const many = marks.all().length;
  $("marks-told").textContent = many ? `${count(many, "mark", "marks")}: ${states.map(([state, text]) => `${amount(state).toLocaleString("en-US")} ${text}`).join(", ")}.` : "No link is marked yet. Open a link to accept it, query it or ask for a retest.";
  const odd = marks.all().filter((mark) => mark.state !== "holds" && mark.state !== "replaced");
  $("marks-odd").replaceChildren(...(odd.length ? [folded(`${count(odd.length, "mark", "marks")} that do not count, and why`, make("ul", {}, ...odd.slice(0, 200).map((mark) => make("li", {}, mark.row < 0 ? fileText(mark.link) : linkAnchor(mark.link), ": ", fileText(markLine(mark)), `, ${STATE_WORDS[mark.state]}`))))] : []));
  $("marks-save").disabled = !many;
  $("marks-where").textContent = !marks.own() ? "" : page.marksKept ? "Marks made here are kept in this browser for this file; saved, they go with the job." : "This browser keeps nothing for files opened from disk: save the marks before closing the page.";
}
const markLine = (mark) => `${MARK_WORDS[mark.mark]} by ${mark.name}${mark.at ? `, ${mark.at.replace("T", " ").replace(/Z$/, " UTC")}` : ""}${mark.note ? `: ${mark.note}` : ""}`;

function markTools(page) {
  const file = make("input", { type: "file", id: "marks-load", accept: ".json,application/json", multiple: true, class: "unseen", tabindex: -1, "aria-label": "Files of marks" });
  const told = $("marks-result");
  file.addEventListener("change", async () => {
    for (const each of [...file.files]) {
      try {
        if (each.size > MARKS_BYTES) throw new Error(`${each.name} is too large for a file of marks.`);
        const text = await new Promise((resolve, reject) => { const read = new FileReader(); read.onload = () => resolve(read.result); read.onerror = () => reject(new Error(`${each.name} cannot be read.`)); read.readAsText(each); });
        const fresh = page.marks.load(text, each.name);
        told.textContent = `${each.name}: ${count(fresh, "mark", "marks")} new here.`;
      } catch (error) { told.textContent = error.message; }
    }
    file.value = "";
  });
  const name = make("input", { id: "marks-file", autocomplete: "off", spellcheck: "false", value: "review" });
  const save = make("button", { type: "button", id: "marks-save" }, "Save marks");
  save.addEventListener("click", () => {
    const bare = name.value.replace(/[^\p{L}\p{N} ._-]+/gu, "").replace(/ +/g, " ").replace(/(\.marks)?(\.json)?$/, "").trim() || "review";
    download(`${bare}.marks.json`, page.marks.text(), "application/json");
    told.textContent = `Saved as ${bare}.marks.json. Put it beside the job: check, closeout and the next page honor it.`;
  });
  const open = make("button", { type: "button", on: { click: () => file.click() } }, "Load marks");
  $("marks-tools").append(make("label", {}, "Name of the file", name), save, open, file);
  showMarks(page);
  $("marks").hidden = false;
}
function download(name, text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const anchor = make("a", { href: address, download: name });
  document.body.append(anchor);
  anchor.click();
  anchor.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}

// The form inside an opened link. The name is asked once and kept while the page is open.
function markForm(page, link) {
  const box = make("div", { class: "marking" });
  const fill = () => {
    const list = page.marks.of(link).map((mark) => {
      const line = make("li", { class: mark.state === "holds" ? null : "off" }, make("b", {}, mark.mark), " ", fileText(markLine(mark)), STATE_WORDS[mark.state] ? ` (${STATE_WORDS[mark.state]})` : "");
      if (!mark.given) line.append(" ", make("button", { type: "button", class: "plain", on: { click: () => { page.marks.remove(mark); fill(); } } }, "remove"));
      return line;
    });
    const name = make("input", { autocomplete: "name", value: page.reviewer ?? "", "aria-label": "Your name" });
    const note = make("input", { autocomplete: "off", "aria-label": "Note" });
    const told = make("span", { role: "status", class: "aside" });
    name.addEventListener("input", () => { page.reviewer = name.value.trim(); });
    const button = (kind) => make("button", { type: "button", on: { click: () => {
      if (!name.value.trim()) { told.textContent = "A mark needs a name."; name.focus(); return; }
      page.reviewer = name.value.trim();
      page.marks.add(link, kind, note.value.trim(), page.reviewer);
      fill();
      box.querySelector("button.kind")?.focus({ preventScroll: true });
    } }, class: "kind" }, kind);
    box.replaceChildren(...(list.length ? [make("ul", {}, ...list)] : []),
      make("div", { class: "mark-form" }, make("label", {}, "Your name", name), make("label", { class: "wide-note" }, "Note", note), make("div", { role: "group", "aria-label": "Mark this link", class: "kinds" }, ...Object.keys(MARK_WORDS).map(button)), told));
  };
  fill();
  return [make("h3", { class: page.marks.of(link).length ? null : "unmarked" }, "Reviewer's mark"), box];
}
