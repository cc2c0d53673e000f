// Charts: made with the analysis; here they get the colors of the page, obey its filters and share its selection.
const PAUSE = 120; // typing in the search box goes before redrawing
const AWAY = 2500; // the same for charts out of sight
const OPTIONS = { displayModeBar: false, responsive: true, displaylogo: false };

const PAPER = 660; // width in print: what A4 and letter hold between their margins
let onPaper = false;

function tones() {
  const style = getComputedStyle(document.documentElement);
  const read = (name) => style.getPropertyValue(`--${name}`).trim();
  return { ink: read("ink"), soft: read("soft"), rule: read("rule"), paper: read("paper"), pass: read("pass"), "marginal pass": read("marginal"), "marginal fail": read("fail"), fail: read("fail"), "not judged": read("incomplete"), limit: read("soft"), line: read("ink"), expected: read("soft") };
}
function dressedLayout(base, color) {
  const narrow = window.innerWidth < 640;
  const axis = { color: color.ink, gridcolor: color.rule, linecolor: color.ink, showline: true };
  return { ...base, autosize: true, ...(onPaper ? { width: PAPER } : {}), paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: color.ink, family: getComputedStyle(document.body).fontFamily, size: narrow ? 12 : 14 },
    xaxis: { ...base.xaxis, ...axis, showgrid: false }, yaxis: { ...base.yaxis, ...axis }, legend: { ...base.legend, font: { size: narrow ? 11 : 13 } } };
}
// A chart paints when the drawing script is there, when a filter has rested, and when the page changes its colors. Out of
// sight it lets more filters go before, so that it keeps nobody waiting who works in the table.
function paintable(paint, element) {
  const state = { wanted: () => true, whole: true, ready: false, wait: 0, stale: false, inSight: true };
  const now = () => { clearTimeout(state.wait); state.stale = false; if (state.ready) paint(); };
  const soon = (pause) => { state.stale = true; clearTimeout(state.wait); state.wait = setTimeout(now, state.inSight ? pause : AWAY); };
  new IntersectionObserver((entries) => { state.inSight = entries.at(-1).isIntersecting; if (state.inSight && state.stale) now(); }, { rootMargin: "200px" }).observe(element);
  return {
    state, now,
    filter(test, everything) { state.wanted = everything ? () => true : test; state.whole = everything; soon(PAUSE); },
    select() { soon(0); },
    start() {
      state.ready = true;
      paint();
      for (const [name, on] of [["beforeprint", true], ["afterprint", false]]) window.addEventListener(name, () => { onPaper = on; paint(); });
      for (const turn of ["(prefers-color-scheme: dark)", "print"]) window.matchMedia(turn).addEventListener("change", paint);
    },
  };
}

// Loss against length.
function lossChart(page) {
  const figures = page.data.figure;
  if (!figures.length) return null;
  const plot = $("plot");
  const box = $("wavelengths");
  let shown = figures[0];
  const chart = paintable(paint, plot);
  figures.forEach((entry, at) => {
    const input = make("input", { type: "radio", name: "wavelength", value: at, checked: at === 0 });
    input.addEventListener("change", () => { shown = entry; chart.now(); });
    box.append(make("label", {}, input, `${entry.wavelength_nm} nm`));
  });
  plot.classList.add("waiting");
  $("chart").hidden = false;
  tell(shown.cells !== null);

  // The readings at this wavelength that can be drawn, of the links wanted: [row, link].
  function drawable(wanted) {
    const r = page.readings;
    const { start } = page.data.readings;
    const found = [];
    for (let link = 0; link < start.length - 1; link += 1) {
      if (!wanted(link)) continue;
      for (let row = start[link]; row < start[link + 1]; row += 1)
        if (r.wavelength_nm(row) === shown.wavelength_nm && r.in_force(row) && r.parameter(row) === "loss" && r.value(row) !== null && page.facts.length_m(r.record(row)) !== null) found.push([row, link]);
    }
    return found;
  }
  const length = ([row]) => page.facts.length_m(page.readings.record(row));
  const loss = ([row]) => page.readings.value(row);
  function counted(trace, points) {
    const cells = shown.cells;
    const z = range(0, cells.up).map(() => Array(cells.across).fill(null));
    for (const point of points) {
      const x = Math.min(cells.across - 1, Math.max(0, Math.trunc((length(point) - cells.x0) / cells.dx)));
      const y = Math.min(cells.up - 1, Math.max(0, Math.trunc((loss(point) - cells.y0) / cells.dy)));
      z[y][x] = (z[y][x] ?? 0) + 1;
    }
    return { ...trace, z };
  }
  function kept(trace) {
    if (!trace.customdata || chart.state.whole) return trace;
    const places = range(0, trace.customdata.length).filter((at) => chart.state.wanted(trace.customdata[at]));
    const pick = (list) => places.map((at) => list[at]);
    return { ...trace, x: pick(trace.x), y: pick(trace.y), customdata: pick(trace.customdata) };
  }
  const marks = (meta, points, marker) => ({ type: "scatter", mode: "markers", name: meta, meta, x: points.map(length), y: points.map(loss), customdata: points.map(([, link]) => link), hoverinfo: "none", marker });
  function traces() {
    const { data } = shown.figure;
    if (!shown.cells || chart.state.whole) return [data.map(kept), shown.cells !== null];
    const points = drawable(chart.state.wanted);
    if (points.length > shown.most) return [data.map((trace) => (trace.meta === "density" ? counted(trace, points) : kept(trace))), true];
    const passes = points.filter(([row]) => page.readings.verdict(row) === "pass");
    return [[...data.filter((trace) => trace.meta !== "density").map(kept), marks("pass", passes, { symbol: "circle-open", size: 9 })], false];
  }
  // Cells are drawn as squares, the larger the more readings: plotly's own picture of cells sets a style that the page's
  // policy refuses.
  function squares(trace, color) {
    const full = trace.z.flatMap((line, up) => line.map((many, across) => [many, across, up])).filter(([many]) => many);
    const most = Math.max(1, ...full.map(([many]) => many));
    return { type: "scatter", mode: "markers", name: "readings in a cell, the larger the more", meta: "density", hoverinfo: "skip", z: trace.z, x: full.map(([, across]) => trace.x0 + trace.dx * across), y: full.map(([, , up]) => trace.y0 + trace.dy * up),
      marker: { symbol: "square", color: color.pass, size: full.map(([many]) => 3 + 7 * Math.sqrt(many / most)), line: { width: 0 } } };
  }
  function dressed(trace, color) {
    const tone = color[trace.meta];
    if (trace.meta === "density") return squares(trace, color);
    if (trace.mode === "lines") return { ...trace, line: { ...trace.line, color: tone } };
    const open = trace.marker.symbol.endsWith("-open");
    const edge = trace.meta === "limit" ? { color: tone, width: 1.5 } : { color: open ? tone : color.ink, width: open ? 1.6 : 0.8 };
    return { ...trace, marker: { ...trace.marker, color: tone, line: edge } };
  }
  function ring(color) {
    if (page.selected === undefined) return [];
    const points = drawable((link) => link === page.selected);
    return points.length ? [{ ...marks("selected link", points, { symbol: "circle-open", size: 18, color: color.ink, line: { color: color.ink, width: 2.5 } }), meta: "selected" }] : [];
  }
  function tell(dense) {
    const notes = shown.line ? [shown.line] : [];
    if (shown.left_out) notes.push(`${count(shown.left_out, "reading has", "readings have")} no number or no length and cannot be drawn.`);
    if (dense) notes.push(`More than ${shown.most.toLocaleString("en-US")} readings: they are counted in cells, a larger square holds more; what does not plainly pass, and the link last opened, is drawn point by point. Narrow the links to see each.`);
    if (page.data.detail.left_out && shown.cells && !chart.state.whole) notes.push("Of each link this page holds the worst loss, and draws that.");
    $("undrawn").textContent = notes.join(" ");
    $("undrawn").hidden = !notes.length;
  }
  function paint() {
    const color = tones();
    const [some, dense] = traces();
    tell(dense);
    const layout = dressedLayout(shown.figure.layout, color);
    if (window.matchMedia("(pointer: coarse)").matches) layout.dragmode = false;
    Plotly.react(plot, [...some.map((trace) => dressed(trace, color)), ...ring(color)], layout, OPTIONS);
  }
  function readout(point) {
    if (point.customdata === undefined) return;
    const { links } = page;
    $("readout").replaceChildren(make("b", {}, fileText(links.label(point.customdata))), `: ${number(point.y)} dB at ${shown.wavelength_nm} nm over ${number(point.x, 1)} m, ${point.data.meta}. `, fileText(links.sentence(point.customdata) ?? ""));
  }
  return {
    filter: chart.filter,
    select: chart.select,
    start() {
      plot.classList.remove("waiting");
      chart.start();
      plot.on("plotly_hover", (event) => readout(event.points[0]));
      plot.on("plotly_click", (event) => { const [point] = event.points; readout(point); if (point.customdata !== undefined) page.table.show(point.customdata); });
    },
  };
}

// The drawing script comes last. Its text is named in the page's policy by hash; the empty elements keep it from
// adding styles of its own for kinds of chart that this page does not have.
async function loadPlotly() {
  const text = await unpack("plotly");
  const ids = new Set([...text.matchAll(/getElementById\("([0-9a-f]{64})"\)/g)].map((found) => found[1]));
  for (const id of ids) document.head.append(make("meta", { id }));
  const script = make("script");
  script.textContent = text;
  document.head.append(script);
}
