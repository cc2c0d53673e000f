// One link, opened under its row: its sentence, a decibel bar for each loss reading, every reading with its origin, the facts.
function linkDetail(page, link, columns) {
  const { data, links } = page;
  const panel = make("div", { class: "detail", role: "row", "aria-level": 2 });
  const body = make("div", { role: "gridcell", "aria-colspan": columns });
  panel.append(body);
  const sentence = links.sentence(link) ?? "";
  body.append(make("p", {}, make("b", {}, fileText(links.label(link))), make("br"), fileText(sentence)), compareButton(page, link));
  if (links.missing(link) && !sentence.includes(links.missing(link))) body.append(make("p", { class: "looser" }, links.verdict(link) === "fail" ? "It fails whatever these would say; not measured or not judged: " : "Missing: ", fileText(links.missing(link))));
  if (links.proved(link) && !sentence.includes(links.proved(link))) body.append(make("p", {}, "Best grade proved: ", make("b", {}, fileText(links.proved(link))), "."));
  const rows = range(data.readings.start[link], data.readings.start[link + 1]);
  const now = rows.filter((row) => page.readings.in_force(row));
  body.append(...likelyCauses(page, link));
  const bars = now.filter((row) => page.readings.parameter(row) === "loss" && (page.readings.limit(row) !== null || page.readings.value(row) !== null));
  if (bars.length) body.append(...decibelBars(page, bars), ...directionMeans(page, bars));
  if (links.medium(link) === "twisted pair") body.append(...marginStrips(page, link), ...marginBars(page, link, now));
  if (now.length) body.append(make("h3", {}, "Readings, nearest to their limit first"), ...readingsTables(page, now));
  body.append(...eventTable(page, link));
  const earlier = rows.filter((row) => !page.readings.in_force(row));
  if (earlier.length) body.append(folded(`${count(earlier.length, "reading", "readings")} of earlier tests, superseded, or told twice`, wide(retestHistory(page, rows))));
  const records = range(data.records.start[link], data.records.start[link + 1]);
  if (records.length) body.append(make("h3", {}, "Facts, and who said each"), factsTable(page, records, link), folded(count(records.length, "record", "records"), wide(recordsTable(page, records))));
  const named = data.findings.filter((finding) => finding.links.includes(link));
  if (records.length) body.append(rawRows(page, link));
  body.append(...markForm(page, link));
  if (named.length) body.append(make("h3", {}, "Findings that name this link"), ...named.map((finding) => make("p", {}, fileText(finding.message), ...(finding.next_step ? [" ", make("span", { class: "next" }, fileText(finding.next_step))] : []))));
  return panel;
}
const range = (from, to) => Array.from({ length: to - from }, (_, at) => from + at);

function decibelBars(page, rows) {
  const r = page.readings;
  const scale = Math.max(...rows.map((row) => Math.max(r.limit(row) ?? 0, r.value(row) ?? 0)), 0.01) * 1.02;
  return rows.map((row) => decibelBar(page, row, scale));
}
const WORLDS = { strictest: "strictest of the possible limits", "most generous": "most generous of the possible limits" };
const PARTS = [["cable", "cable_db"], ["matings", "matings_db"], ["splices", "splices_db"]];
function decibelBar(page, row, scale) {
  const r = page.readings;
  const limit = r.limit(row);
  const world = r.world(row);
  const bar = make("div", { class: "bar" });
  bar.append(make("div", { class: "bar-head" }, make("b", {}, readingName(page, row)), make("span", {}, `measured ${valueText(page, row) || "nothing"}`),
    make("span", {}, limit === null ? "no limit could be given" : `allowed ${number(limit)} dB${doubt(page, row)}${world && world !== "certain" ? ` (${WORLDS[world] ?? world})` : ""}`), make("b", {}, marginWords(page, row))));
  if (limit !== null) bar.append(allowedTrack(r, row, scale));
  bar.append(measuredTrack(r, row, limit, scale));
  if (limit !== null) bar.append(sumLine(page, row));
  bar.append(...expectation(r, row), ...nearLimit(r, row));
  return bar;
}
// What such a link loses when it is done well, and where this one stands among them.
function expectation(r, row) {
  if (r.expected_db(row) === null) return [];
  if (r.expected_97_db(row) === r.expected_db(row)) return [make("p", { class: "sum" }, `Typical cable alone loses ${number(r.expected_db(row))} dB.`)];
  const share = r.place(row);
  const place = share === null ? "" : share > 0.995 ? "; this one loses more than 99 of 100" : `; this one loses more than ${Math.floor(100 * share)} of 100`;
  return [make("p", { class: "sum" }, `Done well: half of such links stay under ${number(r.expected_db(row))} dB (short line), 97 of 100 under ${number(r.expected_97_db(row))} dB (dotted line)${place}.`)];
}
// A probability helps only where the verdict could turn.
function nearLimit(r, row) {
  if (r.p_conform(row) === null || !(r.verdict(row) ?? "").startsWith("marginal")) return [];
  return [make("p", { class: "sum" }, `Within the measurement accuracy of ± ${number(r.accuracy(row))} dB: the probability that it keeps the limit is ${Math.round(100 * r.p_conform(row))} %.`)];
}
// Both directions are judged one by one; their mean is shown beside them and decides nothing here.
function directionMeans(page, rows) {
  const r = page.readings;
  const whole = rows.filter((row) => r.direction(row) !== null && r.bound(row) === null && r.value(row) !== null);
  const waves = [...new Set(whole.map((row) => r.wavelength_nm(row)))];
  return waves.flatMap((wave) => {
    const here = whole.filter((row) => r.wavelength_nm(row) === wave);
    if (here.length !== 2 || r.direction(here[0]) === r.direction(here[1])) return [];
    return [make("p", { class: "sum" }, `${wave} nm, mean of both directions: ${number((r.value(here[0]) + r.value(here[1])) / 2)} dB, shown for information.`)];
  });
}
function sized(element, amount, scale) {
  element.style.width = `${Math.max(0, (100 * amount) / scale)}%`;
  return element;
}
function allowedTrack(r, row, scale) {
  const track = make("div", { class: "track allowed", "aria-hidden": "true" });
  const known = PARTS.filter(([, name]) => r[name](row) !== null);
  const parts = known.length ? known.map(([word, name]) => [word, r[name](row)]) : [["whole", r.limit(row)]];
  for (const [word, amount] of parts) {
    const room = (amount / scale) * $("table").clientWidth > 95 && word !== "splices";
    track.append(sized(make("div", { class: `part ${word}${room ? "" : " narrow"}` }, room ? `${word === "whole" ? "allowed" : word} ${number(amount)}` : ""), amount, scale));
  }
  const end = make("div", { class: "limit-end" });
  end.style.left = `calc(${(100 * r.limit(row)) / scale}% - 2px)`;
  track.append(end);
  return track;
}
function measuredTrack(r, row, limit, scale) {
  const track = make("div", { class: "track measured", "aria-hidden": "true" });
  const value = r.value(row);
  if (r.bound(row) === "over range") track.append(sized(make("div", { class: "over endless" }), scale, scale));
  else if (value !== null) {
    track.append(sized(make("div", { class: "amount" }), limit === null ? value : Math.min(value, limit), scale));
    if (limit !== null && value > limit) track.append(sized(make("div", { class: "over" }), value - limit, scale));
    if (limit !== null && value < limit) track.append(sized(make("div", { class: "room" }), limit - value, scale));
  }
  for (const [name, kind] of [["expected_db", "line-50"], ["expected_97_db", "line-97"]]) {
    if (r[name](row) === null || r[name](row) > scale) continue;
    const line = make("div", { class: kind });
    line.style.left = `${(100 * r[name](row)) / scale}%`;
    track.append(line);
  }
  return track;
}
// The sum as arithmetic where its terms are known and give the very parts; otherwise the parts alone.
function sumLine(page, row) {
  const r = page.readings;
  const record = r.record(row);
  const limits = page.limits;
  const at = r.limit_row(row);
  const length = page.facts.length_m(record);
  const terms = [
    [at < 0 ? null : limits.coefficient_db_per_km(at), length === null ? null : length / 1000, (a) => `cable ${number(length, 1)} m × ${number(a)} dB/km`],
    [at < 0 ? null : limits.mated_pair_db(at), page.records.matings_in_reading(record), (a, n) => `${count(n, "mating", "matings")} × ${number(a)}`],
    [at < 0 ? null : limits.splice_db(at), page.facts.splices(record), (a, n) => `${count(n, "splice", "splices")} × ${number(a)}`],
  ];
  const line = make("p", { class: "sum" });
  PARTS.forEach(([word, name], index) => {
    const amount = r[name](row);
    if (amount === null) return;
    const [each, many, words] = terms[index];
    const holds = each !== null && many !== null && Math.abs(each * many - amount) < 1e-6;
    if (line.childElementCount) line.append(" + ");
    line.append(make("span", { class: "term" }, make("span", { class: `part swatch ${word}`, "aria-hidden": "true" }), `${holds ? words(each, many) + " =" : word} ${number(amount)}`));
  });
  line.append(line.childElementCount ? ` = allowed ${number(r.limit(row))} dB` : `allowed ${number(r.limit(row))} dB`);
  return line;
}

// A sweep brings dozens of readings: those far from their limit are folded.
const READINGS_AT_FIRST = 16;
function readingsTables(page, rows) {
  const shown = rows.length > READINGS_AT_FIRST + 4 ? READINGS_AT_FIRST : rows.length;
  const made = [wide(readingsTable(page, rows.slice(0, shown)))];
  if (rows.length > shown) {
    const rest = wide();
    const fold = folded(`${rows.length - shown} more readings`, rest);
    fold.addEventListener("toggle", () => { if (!rest.childElementCount) rest.append(readingsTable(page, rows.slice(shown))); });
    made.push(fold);
  }
  return made;
}
// Loss of fiber differs by wavelength and direction, which make one short name; readings of pairs have columns of their own.
function readingsTable(page, rows) {
  const r = page.readings;
  const pairs = rows.some((row) => r.pair(row) !== null || r.frequency_mhz(row) !== null);
  const named = pairs ? [["Parameter", r.parameter], ["Pair", r.pair], ["End", r.end], ["Frequency", (row) => frequency(r.frequency_mhz(row))]] : [["Reading", (row) => readingName(page, row)]];
  const heads = [...named.map(([word]) => word), "Measured", pairs ? "Limit" : "Allowed", "Margin", "Verdict", "Limit, and how it is known", "From", "Declared"];
  const lines = rows.map((row) => {
    const unit = page.data.units[r.parameter(row)];
    const reason = r.reason_row(row) < 0 ? null : page.reasons.text(r.reason_row(row));
    const mend = r.reason_row(row) < 0 ? null : page.reasons.mend(r.reason_row(row));
    const verdict = make("span", {}, r.verdict(row) ?? "", r.counts(row) ? "" : " (for information)");
    if (reason && r.verdict(row) !== "pass") verdict.append(make("br"), fileText([reason, mend].filter(Boolean).join("; ")));
    const names = named.map(([word, read]) => cell(read(row) ?? "", word === "Frequency" ? "number" : null));
    return make("tr", {}, ...names, cell(valueText(page, row), "number"), cell(r.limit(row) === null ? "" : inUnit(r.limit(row), unit) + doubt(page, row), "number"),
      cell(inUnit(r.margin(row), unit), "number"), cell(verdict), cell(pairs ? pairLimit(page, row) : limitSource(page, row)), cell(origin(page, row)), cell(declared(page, row)));
  });
  const first = named.length;
  return sheet(pairs ? "readings of-pairs" : "readings", heads, lines, pairs ? [3, first, first + 1, first + 2] : [first, first + 1, first + 2]);
}
const KNOWN = { read: "read in the document", secondary: "from a second-hand source", derived: "derived", memory: "recalled", own: "the job's own" };
function limitSource(page, row) {
  const at = page.readings.limit_row(row);
  if (at < 0) return "";
  const limit = page.limits;
  const source = [limit.standard(at), limit.document(at), limit.edition(at)].filter(Boolean).join(" ");
  const known = KNOWN[limit.how_known(at)];
  const world = page.readings.world(row);
  const words = limit.text(at) ?? "";
  const text = [words, words.includes(limit.document(at)) ? null : source, words.includes(limit.how_known(at)) ? null : known, page.readings.basis(row) && `judged by ${page.readings.basis(row)}`, world && world !== "certain" ? `limit shown: ${world}` : null];
  return fileText(text.filter(Boolean).join("; "));
}
// Limits of pairs are equations: the document is said at once, the equation on demand.
function pairLimit(page, row) {
  const at = page.readings.limit_row(row);
  if (at < 0) return page.readings.basis(row) ? `judged by ${page.readings.basis(row)}` : "";
  const limit = page.limits;
  const source = [limit.document(at) ?? limit.edition(at), KNOWN[limit.how_known(at)], page.readings.basis(row) && `judged by ${page.readings.basis(row)}`];
  return folded(fileText(source.filter(Boolean).join("; ")), limitSource(page, row));
}
function origin(page, row) {
  const r = page.readings;
  const block = page.blockRow.get(r.block(row));
  if (block === undefined) return "";
  const heading = r.heading_row(row) < 0 ? null : page.headings.heading(r.heading_row(row));
  const parts = [page.files.name(page.fileRow.get(page.blocks.file(block))), page.blocks.sheet(block), `row ${r.row(row)}`, r.col(row) < 0 ? null : `column ${letters(r.col(row))}`];
  return make("span", {}, fileText(parts.filter(Boolean).join(", ")), heading === null ? "" : make("br"), heading === null ? "" : fileText(`“${heading}”`));
}
function declared(page, row) {
  const r = page.readings;
  const unit = page.data.units[r.parameter(row)];
  const parts = [r.declared_limit(row) === null ? null : `limit ${inUnit(r.declared_limit(row), unit)}`, r.declared_margin(row) === null ? null : `margin ${inUnit(r.declared_margin(row), unit)}`, r.declared_verdict(row)];
  return parts.filter(Boolean).join(", ");
}

const FACT_WORDS = { length_m: "length", end_type_a: "end A", end_type_b: "end B", reference: "reference method", accuracy_db: "measurement accuracy", array_pairs: "of these, array connections", configuration: "configuration" };
function factsTable(page, every, link) {
  const measured = new Set(range(page.data.readings.start[link], page.data.readings.start[link + 1]).map(page.readings.record));
  const records = measured.size ? every.filter((record) => measured.has(record)) : every; // a trace beside them rests on no facts
  const lines = [];
  for (const name of Object.keys(page.facts)) {
    const said = new Map();
    for (const record of records) {
      const value = page.facts[name](record);
      const who = page.saidBy[name](record);
      if (value === null && (who === null || who === "missing")) continue;
      const shown = value === null ? "not known" : typeof value === "number" ? withUnit(Number.isInteger(value) ? String(value) : number(value, name.endsWith("_m") ? 1 : 2), name.endsWith("_m") ? "m" : name.endsWith("_db") ? "dB" : "") : value;
      said.set(`${shown}\u0000${who}`, [shown, who]);
    }
    for (const [shown, who] of said.values()) lines.push(make("tr", {}, cell(FACT_WORDS[name] ?? name.replaceAll("_", " ")), cell(fileText(shown)), cell(who ?? "")));
  }
  const matings = page.records.matings_in_reading(records[0]);
  if (matings !== null) lines.push(make("tr", {}, cell("matings in the reading"), cell(String(matings)), cell("mated pairs, plug ends and reference method")));
  const ends = [...new Set(records.flatMap((record) => [page.records.label_a(record), page.records.label_b(record)]))].filter(Boolean);
  if (ends.length) lines.push(make("tr", {}, cell("labels of the ends"), cell(fileText(ends.join(", "))), cell("")));
  const group = Math.max(...records.map((record) => page.records.strands(record)));
  if (group > 1) lines.push(make("tr", {}, cell("strands covered by one group value"), cell(String(group)), cell("")));
  const places = [page.links.place_a(link), page.links.place_b(link)].filter(Boolean).join(" to ");
  if (places) lines.push(make("tr", {}, cell("places"), cell(fileText(places)), cell("")));
  const missing = [...new Set(records.map((record) => page.records.missing(record)).filter(Boolean))];
  for (const text of missing) lines.push(make("tr", {}, cell("missing"), cell(fileText(text)), cell("nobody")));
  return sheet("facts", ["Fact", "Value", "Said by"], lines);
}
const VERSIONS = [["software_version", "software"], ["firmware_version", "firmware"], ["limit_table_version", "limit tables"]];
function recordsTable(page, rows) {
  const r = page.records;
  const heads = ["Tested", "Place in the evidence", "Tester", "By", "Record", "Declared"];
  const lines = rows.map((row) => make("tr", {},
    cell(r.tested_at(row) ? `${r.tested_at(row)}, zone not stated` : "time not stated"), cell(recordOrigin(page, row)),
    cell(fileText([r.tester(row), ...VERSIONS.map(([name, words]) => r[name](row) && `${words} ${r[name](row)}`), r.calibrated_on(row) && `calibrated ${r.calibrated_on(row).slice(0, 10)}`].filter(Boolean).join(", "))), cell(fileText(r.operator(row) ?? "")), cell(fileText([r.record_no(row), r.project(row) && `project ${r.project(row)}`].filter(Boolean).join(", "))),
    cell(fileText([r.declared_verdict(row), r.declared_limit(row) && `to “${r.declared_limit(row)}”`, r.declared_margin_db(row) === null ? null : `margin ${number(r.declared_margin_db(row))} dB`].filter(Boolean).join(", ")))));
  return sheet("records", heads, lines);
}
function recordOrigin(page, row) {
  const block = page.blockRow.get(page.records.block(row));
  if (block === undefined) return "";
  return fileText([page.files.name(page.fileRow.get(page.blocks.file(block))), page.blocks.sheet(block), `row ${page.records.row(row)}`].filter(Boolean).join(", "));
}
