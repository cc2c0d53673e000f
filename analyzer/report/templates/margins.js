// How margins spread: one chart for the parameter chosen. A bar is a filter: it shows its links in the table.
const PATTERNS = { pass: "", "marginal pass": "-", "marginal fail": "/", fail: "x" };

function marginChart(page) {
  const entries = page.data.margins;
  if (!entries.length) return null;
  const plot = $("margin-plot");
  const select = $("margin-parameter");
  let shown = entries[0];
  const chart = paintable(paint, plot);
  entries.forEach((entry, at) => select.append(make("option", { value: at }, entry.parameter)));
  select.parentElement.hidden = entries.length < 2;
  select.addEventListener("change", () => { shown = entries[Number(select.value)]; chart.now(); });
  $("margins").hidden = false;
  tell();

  // The rule of the bars is that of the analysis; a test holds the two against each other.
  function barOf(margin) {
    const at = Math.floor((margin + 1e-9) / shown.step) - shown.first;
    return Math.min(shown.bars - 1, Math.max(0, at));
  }
  function eachMargin(wanted, act) {
    const r = page.readings;
    const { start } = page.data.readings;
    for (let link = 0; link < start.length - 1; link += 1) {
      if (!wanted(link)) continue;
      for (let row = start[link]; row < start[link + 1]; row += 1)
        if (r.in_force(row) && r.parameter(row) === shown.parameter && r.margin(row) !== null && (r.counts(row) || !shown.counting)) act(row, link);
    }
  }
  function tell() {
    const notes = [`${count(shown.readings, "reading", "readings")}${shown.counting ? " that count" : ", for information"}; right of the line is the good side.`];
    if (shown.without) notes.push(`${count(shown.without, "reading has", "readings have")} no margin and cannot be drawn.`);
    if (shown.gathered) notes.push(`The outermost bars gather ${count(shown.gathered, "farther one", "farther ones")}.`);
    if (!chart.state.whole) notes.push("Only the links shown in the table are counted.");
    if (page.data.detail.left_out && !chart.state.whole) notes.push("Of each link and parameter this page holds the worst reading, and counts that.");
    $("margin-notes").textContent = notes.join(" ");
  }
  function counted(trace) {
    if (chart.state.whole) return trace;
    const y = Array(shown.bars).fill(0);
    eachMargin(chart.state.wanted, (row) => { if (page.readings.verdict(row) === trace.meta) y[barOf(page.readings.margin(row))] += 1; });
    return { ...trace, y };
  }
  function ticks(color) {
    const x = [];
    if (page.selected !== undefined) eachMargin((link) => link === page.selected, (row) => x.push(page.readings.margin(row)));
    return x.map((margin) => ({ type: "line", x0: margin, x1: margin, yref: "paper", y0: 0, y1: -0.03, line: { color: color.ink, width: 3 } }));
  }
  function paint() {
    tell();
    const color = tones();
    const base = dressedLayout(shown.figure.layout, color);
    const limit = base.shapes.map((shape) => ({ ...shape, line: { color: color.ink, width: 2 } }));
    const bars = shown.figure.data.map(counted).map((trace) => ({ ...trace, marker: { color: color[trace.meta], line: { color: color.ink, width: 0.5 }, pattern: { shape: PATTERNS[trace.meta], bgcolor: color[trace.meta], fgcolor: color.paper, fillmode: "replace", size: 7, solidity: 0.2 } } }));
    Plotly.react(plot, bars, { ...base, shapes: [...limit, ...ticks(color)] }, OPTIONS);
  }
  function words(point) {
    const bar = shown.first + point.pointIndex;
    const digits = shown.step < 0.1 ? 2 : shown.step < 1 ? 1 : 0;
    return `margin ${number(bar * shown.step, digits)} to ${number((bar + 1) * shown.step, digits)} ${shown.unit}`;
  }
  function open(point) {
    const named = new Set();
    eachMargin(chart.state.wanted, (row, link) => { if (barOf(page.readings.margin(row)) === point.pointIndex && page.readings.verdict(row) === point.data.meta) named.add(link); });
    page.table.only(named, `${shown.parameter}, ${words(point)}, ${point.data.meta}`);
  }
  return {
    filter: chart.filter,
    select: chart.select,
    start() {
      chart.start();
      plot.on("plotly_hover", (event) => { const [point] = event.points; $("margin-readout").textContent = `${words(point)}: ${count(point.y, "reading", "readings")}, ${point.data.meta}. Click to see the links.`; });
      plot.on("plotly_click", (event) => open(event.points[0]));
    },
  };
}
