// Readings of twisted pair that are no curve: each a bar from its limit, to the good side or beyond it, on one scale.
const BARS_AT_FIRST = 14;
const BAR_FROM = -4;
const BAR_TO = 12;

function marginBars(page, link, rows) {
  const r = page.readings;
  const { curves } = page.data;
  const drawn = new Set(curves.reading.slice(curves.start[link], curves.start[link + 1]));
  const own = rows.filter((row) => !drawn.has(row) && r.margin(row) !== null && page.data.units[r.parameter(row)] === "dB");
  if (!own.length) return [];
  const bars = own.map((row) => marginBar(page, row));
  const shown = bars.length > BARS_AT_FIRST + 2 ? BARS_AT_FIRST : bars.length;
  const made = [make("h3", {}, "Margins, nearest to the limit first"), ...bars.slice(0, shown), barAxis()];
  if (bars.length > shown) made.push(folded(`${bars.length - shown} more, all farther from their limit`, ...bars.slice(shown), barAxis()));
  return [make("div", { class: "strips" }, ...made)];
}
const place = (margin) => (100 * (Math.min(BAR_TO, Math.max(BAR_FROM, margin)) - BAR_FROM)) / (BAR_TO - BAR_FROM);

function marginBar(page, row) {
  const r = page.readings;
  const margin = r.margin(row);
  const track = make("span", { class: "margin-track", "aria-hidden": "true" });
  const bar = make("span", { class: margin < 0 ? "over" : margin > BAR_TO ? "amount endless" : "amount" });
  bar.style.left = `${Math.min(place(0), place(margin))}%`;
  bar.style.width = `${Math.abs(place(margin) - place(0))}%`;
  const end = make("span", { class: "at-limit" });
  end.style.left = `${place(0)}%`;
  track.append(bar, end);
  const said = [r.verdict(row), r.counts(row) ? "" : " (information)"].join("");
  const numbers = `${bareValue(page, row)}, ${floorOf(page, row) ? "needed" : "allowed"} ${inUnit(r.limit(row), page.data.units[r.parameter(row)])}${doubt(page, row)}`;
  return make("div", { class: "strip-row bar-row" }, make("span", { class: "said" }, said), make("span", {}, readingName(page, row), make("br"), make("span", { class: "aside" }, numbers)), track, make("span", { class: "number" }, inUnit(margin, "dB")));
}
function barAxis() {
  const scale = make("span", { class: "ticks", "aria-hidden": "true" });
  for (const margin of [-4, 0, 4, 8, 12]) {
    const tick = make("span", {}, margin === 0 ? "limit" : margin === BAR_TO ? `${margin} dB` : number(margin, 0));
    tick.style.left = `${place(margin)}%`;
    scale.append(tick);
  }
  return make("div", { class: "strip-row bar-row axis" }, make("span", {}), make("span", {}), scale, make("span", {}));
}
