// How readings, values and margins are written: the words of the terminal.
const DECIMALS = { m: 1, ns: 1 }; // all other units have two
const inUnit = (value, unit) => withUnit(number(value, DECIMALS[unit] ?? 2), unit);

// At most two decimals, none that says nothing: 312 MHz, 62.5 MHz, 0.772 MHz.
function frequency(mhz) {
  if (mhz === null) return "";
  return `${mhz >= 1 ? Number(mhz.toFixed(2)).toLocaleString("en-US") : Number(mhz.toPrecision(3))} MHz`;
}
function readingName(page, row) {
  const r = page.readings;
  const parts = [r.wavelength_nm(row) > 0 ? `${r.wavelength_nm(row)} nm` : null, r.pair(row), r.direction(row), r.end(row) && `at end ${r.end(row)}`];
  const name = [r.parameter(row) === "loss" ? null : r.parameter(row), ...parts].filter(Boolean).join(" ") || "loss";
  return [name, frequency(r.frequency_mhz(row))].filter(Boolean).join(", ");
}
const floorOf = (page, row) => !page.data.ceilings.includes(page.readings.parameter(row));
function bareValue(page, row) {
  const r = page.readings;
  if (r.bound(row) === "over range") return "over range";
  const sign = r.bound(row) === "below" ? "<" : r.bound(row) === "above" ? ">" : "";
  return r.value(row) === null ? "" : sign + number(r.value(row), DECIMALS[page.data.units[r.parameter(row)]] ?? 2);
}
function valueText(page, row) {
  const text = bareValue(page, row);
  return text === "over range" ? text : withUnit(text, page.data.units[page.readings.parameter(row)]);
}
// The mark of a limit that nobody has confirmed; the note at the head of the page says what it means.
function doubt(page, row) {
  const at = page.readings.limit_row(row);
  return at < 0 || page.limits.confirmed(at) ? "" : " †";
}
function marginWords(page, row) {
  const r = page.readings;
  const unit = page.data.units[r.parameter(row)];
  const words = { "marginal pass": "pass, within uncertainty", "marginal fail": "fail, within uncertainty" }[r.verdict(row)] ?? r.verdict(row);
  return r.margin(row) === null ? words : `margin ${inUnit(r.margin(row), unit)}: ${words}`;
}
const SENTENCES = ["could not be judged", "declared failed, no reading explains it"]; // what is said of a link in whole words already
function decidedBy(page, link) {
  const row = page.links.decided_by(link);
  const missing = page.links.missing(link);
  if (page.links.verdict(link) === "incomplete" && missing) return missing.split("; ").map((part) => (SENTENCES.some((end) => part.endsWith(end)) ? part : `${part} missing`)).join("; ");
  if (row < 0) return missing ?? "";
  const limit = page.readings.limit(row);
  const reason = page.readings.reason_row(row);
  if (limit === null && page.readings.value(row) === null && page.readings.bound(row) === null) return [readingName(page, row), reason < 0 ? null : page.reasons.text(reason)].filter(Boolean).join(": ");
  const unit = page.data.units[page.readings.parameter(row)];
  return `${readingName(page, row)}: ${limit === null ? valueText(page, row) : `${bareValue(page, row)} against ${inUnit(limit, unit)}`}`;
}
