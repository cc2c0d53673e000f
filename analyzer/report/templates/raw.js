// The rows of the files behind a link, every cell as it stands there. They are a pack of their own, unpacked when the
// first link asks for them.
const SIDE_BY_SIDE = 4; // so many rows stand side by side, a line for each column; more of them stand as in the file
const LINES_AT_ONCE = 8;

function rawRows(page, link) {
  const holder = make("div");
  const fold = make("details", { class: "raw" }, make("summary", {}, "The rows in the file, cell by cell"), holder);
  fold.addEventListener("toggle", async () => {
    if (!fold.open || holder.childElementCount) return;
    page.raw ??= unpack("raw").then(JSON.parse);
    const raw = await page.raw;
    holder.replaceChildren(...rawPieces(page, raw, link));
  });
  return fold;
}
function rawPieces(page, raw, link) {
  const groups = new Map();
  for (let piece = raw.start[link]; piece < raw.start[link + 1]; piece += 1) {
    const number = raw.table[piece];
    if (!groups.has(number)) groups.set(number, []);
    if (raw.at[piece] >= 0) groups.get(number).push(raw.at[piece]);
  }
  if (!groups.size) return [make("p", { class: "aside" }, raw.of ? "This page does not hold the rows of this link; the words above its findings say which links bring theirs. Each reading names its file, row and column." : "The files could not be read once more when this page was made. Each reading names its file, row and column.")];
  const shown = [...groups].flatMap(([number, rows]) => rawTable(page, raw.tables[number], rows));
  if (raw.more[link]) shown.push(make("p", { class: "aside" }, `${count(raw.more[link], "row more speaks", "rows more speak")} of this link in the files named.`));
  return shown;
}
function rawTable(page, table, rows) {
  const block = page.blockRow.get(table.block);
  const file = page.files.name(page.fileRow.get(page.blocks.file(block)));
  const sheetName = page.blocks.sheet(block);
  const side = table.kind === "transposed";
  const place = rows.length ? `${side ? "column" : "row"}${rows.length > 1 ? "s" : ""} ${listed(rows.map((at) => (side ? letters(table.rows[at]) : table.rows[at])))}` : null;
  const head = make("p", { class: "raw-place" }, make("b", {}, fileText([file, sheetName && `sheet ${sheetName}`, place].filter(Boolean).join(", "))));
  if (table.trouble) return [head, make("p", { class: "looser" }, "Not shown: ", fileText(table.trouble), ".")];
  const made = [head];
  if (table.above.length) made.push(rawAbove(table));
  if (table.kind === "sweep" || table.kind === "network") made.push(...rawPoints(table));
  else if (table.kind === "form" || rows.length > SIDE_BY_SIDE) made.push(wide(rawGrid(table, rows)));
  else if (rows.length) made.push(wide(rawList(table, rows)));
  made.push(make("p", { class: "aside" }, table.is_text ? "Texts as the file holds them, without blanks at either end." : "Numbers and dates as the workbook's cells hold them, which may be more digits than a spreadsheet shows; of a formula the value that was saved with it."));
  return made;
}
// Some rows (of a table on its side, columns): a line for each of their cells, the empty ones too.
function rawList(table, rows) {
  const side = table.kind === "transposed";
  const lines = table.headings.map((heading, k) => make("tr", { class: table.taken[k] ? null : "off" }, cell(side ? `row ${table.places[k]}` : letters(table.places[k])), cell(fileText(heading)), ...rows.map((at) => cell(rawCell(table, k, at))), cell(table.taken[k] || "not used")));
  const names = rows.map((at) => (rows.length === 1 ? "As written" : side ? `Column ${letters(table.rows[at])}` : `Row ${table.rows[at]}`));
  return sheet("raw-list", [side ? "Row" : "Column", rawHeading(table), ...names, "Taken for"], lines);
}
function rawHeading(table) {
  const rows = table.heading_rows;
  return rows.length ? `Heading, row${rows.length > 1 ? "s" : ""} ${listed(rows)}` : "Heading";
}
function rawCell(table, k, at) {
  const text = reader(table.cells[k])(at);
  return text === null ? make("span", { class: "aside" }, "empty") : fileText(text);
}
function rawGrid(table, rows) {
  const name = (k) => [letters(table.places[k]), table.headings[k]].filter(Boolean).join(": ");
  const lines = rows.map((at) => make("tr", {}, cell(String(table.rows[at]), "number"), ...table.headings.map((_, k) => cell(fileText(reader(table.cells[k])(at) ?? "")))));
  return sheet("raw-grid", ["Row", ...table.headings.map((_, k) => name(k))], lines, [0]);
}
function rawAbove(table) {
  const lines = table.above.map(([row, texts]) => make("tr", {}, cell(String(row), "number"), cell(fileText(texts.filter(Boolean).join("  |  ")))));
  const told = wide(sheet("raw-above", ["Row", table.kind === "network" ? "Comments and options of the file" : "Lines above the table"], lines, [0]));
  return lines.length > LINES_AT_ONCE ? folded(`${lines.length} lines above the table`, told) : told;
}
function rawPoints(table) {
  const said = table.kind === "sweep" ? `${count(table.points, "row of points", "rows of points")} under these headings, rows ${table.rows[0]} to ${table.last_row}, not repeated here.` : `${count(table.points, "frequency", "frequencies")} follow, not repeated here.`;
  const lines = table.headings.map((heading, k) => make("tr", { class: table.taken[k] ? null : "off" }, cell(letters(table.places[k])), cell(fileText(heading)), cell(table.taken[k] || "not used")));
  const heads = lines.length ? [lines.length > LINES_AT_ONCE ? folded(`${lines.length} columns`, wide(sheet("raw-list", ["Column", rawHeading(table), "Taken for"], lines))) : wide(sheet("raw-list", ["Column", rawHeading(table), "Taken for"], lines))] : [];
  return [...heads, make("p", {}, said)];
}
// 4, 5, 6 and 9 as 4 to 6, 9; letters of columns one by one.
function listed(places) {
  const runs = [];
  for (const place of places) {
    const run = runs.at(-1);
    if (run && typeof place === "number" && place === run.at(-1) + 1) run.push(place);
    else runs.push([place]);
  }
  return runs.flatMap((run) => (run.length > 2 ? [`${run[0]} to ${run.at(-1)}`] : run)).join(", ");
}
