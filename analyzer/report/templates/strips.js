// Margin strips: one for each curve, frequency across on a logarithmic scale, margin as shade. The pictures behind them
// hold the point nearest to its limit in each bin of frequency; where no point was judged the strip stays blank.
const SHADES = [[0, "beyond", "under 0 dB, fails"], [1, "s1", "0 to 1 dB"], [2, "s2", "1 to 2"], [4, "s3", "2 to 4"], [8, "s4", "4 to 8"], [Infinity, "s5", "8 and more"]];
const OPEN_GROUPS = 2;

function pictureOf(page, curve) {
  const { curves, units } = page.data;
  page.pictures ??= new Int16Array(Uint8Array.from(atob(curves.pictures), (letter) => letter.charCodeAt(0)).buffer);
  const steps = units[page.readings.parameter(curves.reading[curve])] === "dB" ? 100 : 10;
  const at = curve * 2 * curves.bins;
  const read = (from) => [...page.pictures.subarray(from, from + curves.bins)].map((whole) => (whole === curves.no_point ? null : whole / steps));
  return { margin: read(at), value: read(at + curves.bins), edge: (bin) => curves.first_mhz[curve] * (curves.last_mhz[curve] / curves.first_mhz[curve]) ** (bin / curves.bins) };
}

function marginStrips(page, link) {
  const { curves } = page.data;
  const own = range(curves.start[link], curves.start[link + 1]).filter((curve) => page.readings.in_force(curves.reading[curve]));
  if (!own.length) {
    const swept = range(page.data.readings.start[link], page.data.readings.start[link + 1]).some((row) => page.readings.basis(row) === "curve");
    return swept ? [make("p", { class: "aside" }, `The curves of this link are not drawn: this page holds those of the ${curves.most_links} links nearest to their limit.`)] : [];
  }
  const groups = new Map();
  for (const curve of own) {
    const name = page.readings.parameter(curves.reading[curve]);
    groups.set(name, [...(groups.get(name) ?? []), curve]);
  }
  // what decides nothing comes last, however near its limit
  const inOrder = [...groups].sort(([, a], [, b]) => decides(page, b) - decides(page, a));
  const made = inOrder.map(([name, some], at) => stripGroup(page, name, some, at < OPEN_GROUPS || beyond(page, some)));
  return [make("h3", {}, "Margin over frequency, nearest to the limit first"), shadeScale(), ...made];
}
const decides = (page, some) => some.some((curve) => page.readings.counts(page.data.curves.reading[curve]));
const beyond = (page, some) => some.some((curve) => page.readings.margin(page.data.curves.reading[curve]) < 0);

function shadeScale() {
  const swatches = SHADES.map(([, shade, words]) => make("span", { class: "term" }, make("span", { class: `shade ${shade}`, "aria-hidden": "true" }), words));
  return make("p", { class: "shades" }, "Margin: ", ...swatches, make("span", { class: "term" }, make("span", { class: "shade none", "aria-hidden": "true" }), "no point judged"));
}

function stripGroup(page, name, some, open) {
  const r = page.readings;
  const row = page.data.curves.reading[some[0]];
  const least = r.margin(row) === null ? "" : `, least margin ${inUnit(r.margin(row), page.data.units[name])}`;
  const readout = make("p", { class: "at-point", "aria-live": "polite" }, "Point at a strip to read it; press its name for the curve.");
  const group = make("details", { class: "strips", open }, make("summary", {}, make("b", {}, name), `: ${count(some.length, "curve", "curves")}${least}${decides(page, some) ? "" : ", for information"}`));
  const fill = () => { if (group.childElementCount === 1) group.append(...some.flatMap((curve) => stripRow(page, curve, readout)), frequencyAxis(page, some[0]), readout); };
  if (open) fill();
  else group.addEventListener("toggle", fill);
  return group;
}

function stripRow(page, curve, readout) {
  const r = page.readings;
  const row = page.data.curves.reading[curve];
  const unit = page.data.units[r.parameter(row)];
  const name = [r.pair(row), r.end(row) && `end ${r.end(row)}`].filter(Boolean).join(", ") || r.parameter(row);
  const picture = pictureOf(page, curve);
  const figure = make("div", { class: "curve", hidden: true });
  const button = make("button", { type: "button", class: "plain", "aria-expanded": "false" }, name);
  button.addEventListener("click", () => {
    figure.hidden = !figure.hidden;
    button.setAttribute("aria-expanded", String(!figure.hidden));
    if (!figure.hidden) drawCurve(page, curve, picture, figure);
  });
  const strip = stripDrawing(picture);
  strip.addEventListener("pointermove", (event) => {
    const box = strip.getBoundingClientRect();
    const bin = Math.min(picture.margin.length - 1, Math.max(0, Math.floor((picture.margin.length * (event.clientX - box.left)) / box.width)));
    const span = `${name}, ${frequency(picture.edge(bin))} to ${frequency(picture.edge(bin + 1))}: `;
    readout.textContent = span + (picture.margin[bin] === null ? "no point judged" : `${inUnit(picture.value[bin], unit)}, margin ${inUnit(picture.margin[bin], unit)}`);
  });
  const least = r.margin(row) === null ? "" : `${inUnit(r.margin(row), unit)}${doubt(page, row)} at ${frequency(r.frequency_mhz(row))}`;
  const line = make("div", { class: "strip-row" }, make("span", { class: "said" }, r.verdict(row), r.counts(row) ? "" : " (information)"), button, strip, make("span", { class: "number" }, least));
  return [line, figure];
}

const shadeOf = (margin) => (margin === null ? null : SHADES.find(([top]) => margin < top || top === Infinity)[1]);
// Neighbors of one shade are one block. What lies beyond the limit is taller too, so that shade does not stand alone.
function stripDrawing(picture) {
  const shades = picture.margin.map(shadeOf);
  const drawing = make("div", { class: "strip", "aria-hidden": "true" });
  for (let from = 0; from < shades.length; ) {
    let to = from + 1;
    while (to < shades.length && shades[to] === shades[from]) to += 1;
    if (shades[from]) {
      const block = make("span", { class: shades[from] });
      block.style.left = `${(100 * from) / shades.length}%`;
      block.style.width = `${(100 * (to - from)) / shades.length}%`;
      drawing.append(block);
    }
    from = to;
  }
  return drawing;
}

function frequencyAxis(page, curve) {
  const first = page.data.curves.first_mhz[curve];
  const last = page.data.curves.last_mhz[curve];
  const inside = range(-3, 5).map((power) => 10 ** power).filter((mhz) => mhz > first * 1.5 && mhz < last / 1.5);
  const scale = make("span", { class: "ticks", "aria-hidden": "true" });
  for (const mhz of [first, ...inside, last]) {
    const tick = make("span", {}, mhz === last ? frequency(mhz) : frequency(mhz).replace(" MHz", ""));
    tick.style.left = `${(100 * Math.log(mhz / first)) / Math.log(last / first)}%`;
    scale.append(tick);
  }
  return make("div", { class: "strip-row axis" }, make("span", {}), make("span", {}), scale, make("span", {}));
}

// The curve on demand: what was measured against what is needed or allowed, at the points that the picture kept.
async function drawCurve(page, curve, picture, box) {
  await page.plotly;
  const r = page.readings;
  const row = page.data.curves.reading[curve];
  const unit = page.data.units[r.parameter(row)];
  const style = getComputedStyle(document.documentElement);
  const tone = (name) => style.getPropertyValue(`--${name}`).trim();
  const sign = floorOf(page, row) ? -1 : 1;
  const kept = range(0, picture.margin.length).filter((bin) => picture.margin[bin] !== null);
  const x = kept.map((bin) => Math.sqrt(picture.edge(bin) * picture.edge(bin + 1)));
  const value = kept.map((bin) => picture.value[bin]);
  const limit = kept.map((bin) => picture.value[bin] + sign * picture.margin[bin]);
  const axis = { color: tone("ink"), gridcolor: tone("rule"), linecolor: tone("ink"), showline: true, zeroline: false, automargin: true, ticks: "outside" };
  const word = floorOf(page, row) ? "needed" : "allowed";
  const over = range(0, kept.length).filter((at) => picture.margin[kept[at]] < 0);
  const traces = [
    { type: "scatter", mode: "lines", name: word, x, y: limit, line: { color: tone("ink"), width: 1.5, dash: "dash" } },
    { type: "scatter", mode: "lines+markers", name: "measured", x, y: value, line: { color: tone("pass"), width: 1.2 }, marker: { size: 5, color: tone("pass") } },
    { type: "scatter", mode: "markers", name: "beyond the limit", x: over.map((at) => x[at]), y: over.map((at) => value[at]), marker: { symbol: "diamond", size: 10, color: tone("fail"), line: { color: tone("ink"), width: 0.8 } }, visible: over.length > 0, showlegend: over.length > 0 },
  ];
  const layout = { height: 300, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: tone("ink"), family: getComputedStyle(document.body).fontFamily, size: 13 }, hovermode: "closest", dragmode: false,
    xaxis: { ...axis, type: "log", showgrid: false, title: { text: "frequency, MHz" }, tickvals: [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000] }, yaxis: { ...axis, title: { text: `${r.parameter(row)}, ${unit}` } },
    legend: { orientation: "h", x: 0, y: 1.02, xanchor: "left", yanchor: "bottom" }, margin: { l: 48, r: 12, t: 12, b: 44 } };
  const note = `${count(page.data.curves.points[curve], "point was", "points were")} measured, up to ${frequency(page.data.curves.top_mhz[curve])}; drawn is the one nearest to its limit in each of ${page.data.curves.bins} steps of frequency.`;
  const plot = make("div", { role: "img", "aria-label": `${readingName(page, row)}: the curve against its limit` });
  box.replaceChildren(plot, make("p", { class: "aside" }, note));
  Plotly.react(plot, traces, layout, { displayModeBar: false, responsive: true, displaylogo: false });
}
