// Columns of the table of links: what each shows, sorts by and writes into a CSV file. Some are shown at first, all can be
// chosen; a column without a single entry is not offered.
function tableColumns(page) {
  const { links, data } = page;
  const present = (read) => range(0, rowsOf(data.links)).some((link) => read(link) !== null);
  const words = (read) => (link, box) => { const value = read(link); if (value !== null) { box.append(fileText(value)); box.title = value; } };
  const built = present(links.configuration);
  const kind = (link) => [links.type(link), links.configuration(link)].filter(Boolean).join(" ") || null;
  const trunk = (link) => (links.cable(link) === links.label(link) ? null : links.cable(link)); // a link of four pairs is its own cable
  const texts = (name, word, width, read = links[name]) => ({ name, word, width, second: true, value: read, show: words(read) });
  const numbers = (name, word, width, decimals) => ({ name, word, width, kind: "number", value: links[name], show: (link, box) => { box.textContent = number(links[name](link), decimals); } });
  const later = (column) => ({ ...column, later: true });
  const tests = (link) => Math.max(0, links.attempts(link));
  const all = [
    { ...texts("label", "Link", "minmax(7em, 1.5fr)"), second: false, value: null, text: links.label, needed: true },
    { name: "verdict", word: "Verdict", width: "7em", value: (link) => RANK[links.verdict(link)], show: (link, box) => box.append(verdictWord(links.verdict(link))), text: links.verdict, needed: true },
    numbers("margin_db", "Margin dB", "4.2em", 2),
    { name: "mark", word: "Mark", width: "5.2em", second: true, value: page.marks.word, show: (link, box) => { box.textContent = page.marks.word(link) ?? ""; } },
    texts("decided_by", "Decided by", "minmax(15.5em, 2.4fr)", (link) => decidedBy(page, link)),
    texts("type", "Type", built ? "minmax(6em, 1.1fr)" : "3.4em", kind),
    { ...numbers("length_m", "Length m", "4em", 1), second: true },
    texts("cable", "Cable", "minmax(4.6em, 0.8fr)", trunk),
    texts("area", "Area", "minmax(5em, 0.9fr)"),
    { name: "attempts", word: "Tests", kind: "number", width: "3em", second: true, value: links.attempts, show: (link, box) => { box.textContent = String(tests(link)); }, text: tests },
    ...[texts("medium", "Medium", "6.5em"), texts("strand", "Strand", "4em"), texts("place_a", "Place A", "minmax(5em, 0.9fr)"), texts("place_b", "Place B", "minmax(5em, 0.9fr)"),
      texts("proved", "Best grade proved", "minmax(6em, 0.9fr)"), texts("missing", "Missing", "minmax(7em, 1.2fr)"), texts("sentence", "In one sentence", "minmax(14em, 2.4fr)")].map(later),
  ];
  const offered = all.filter((column) => column.needed || ["margin_db", "mark", "decided_by", "attempts"].includes(column.name) || present(column.value));
  return offered.map((column) => ({ ...column, text: column.text ?? column.value }));
}
function verdictWord(verdict) {
  return make("span", { class: "word" }, make("span", { class: `mark ${verdict}`, "aria-hidden": "true" }), verdict);
}

// The rows that the table shows, in its order, with the columns that it shows: for a spreadsheet. Text that a spreadsheet
// would take for a formula gets an apostrophe before it; numbers stay numbers, with a plain minus. The last line says what
// the file is, so that nobody, this program included, takes it for records.
function linksCsv(page, columns, rows) {
  const field = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  const safe = (text) => (/^\s*[=+\-@\t\r]/.test(text) ? `'${text}` : text);
  const decimals = { margin_db: 2, length_m: 1 };
  const written = (column, link) => {
    const value = column.text(link);
    if (value === null || value === undefined) return "";
    return typeof value === "number" ? (column.name in decimals ? number(value, decimals[column.name]) : String(value)).replace(MINUS, "-") : field(safe(value));
  };
  const lines = rows.map((link) => columns.map((column) => written(column, link)).join(","));
  return `\ufeff${[columns.map((column) => field(column.word)).join(","), ...lines, "", field(page.data.standing_line)].join("\r\n")}\r\n`;
}

// Which columns are shown: a box for each, beside a button that writes the rows as CSV.
function columnTools(page, columns, table) {
  const chosen = new Set(columns.filter((column) => !column.later && (column.name !== "mark" || page.marks.any())).map((column) => column.name));
  const boxes = columns.filter((column) => !column.needed).map((column) => {
    const input = make("input", { type: "checkbox", value: column.name });
    input.checked = chosen.has(column.name);
    input.addEventListener("change", () => { if (input.checked) chosen.add(column.name); else chosen.delete(column.name); table.columnsChanged(); });
    column.box = input;
    return make("label", {}, input, column.word);
  });
  const fold = make("details", { class: "choice" }, make("summary", {}, "Columns"), make("fieldset", { "aria-label": "Columns of the table" }, ...boxes));
  const csv = make("button", { type: "button", id: "csv", class: "plain" }, "Save these rows as CSV");
  csv.addEventListener("click", () => download("links.csv", linksCsv(page, table.columns(), table.rows()), "text/csv"));
  $("table-tools").append(fold, csv);
  return {
    shown: () => columns.filter((column) => column.needed || chosen.has(column.name)),
    need(name) {
      const column = columns.find((each) => each.name === name);
      if (chosen.has(name)) return false;
      chosen.add(name);
      column.box.checked = true;
      return true;
    },
  };
}
