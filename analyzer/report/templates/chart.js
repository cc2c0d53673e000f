// Loss against length. The figures were made with the analysis; here they get the colors of the page and obey its filters.
const PAUSE = 120; // typing in the search box goes before redrawing
function lossChart(page) {
  const figures = page.data.figure;
  if (!figures.length) return null;
  const plot = $("plot");
  const box = $("wavelengths");
  let shown = figures[0];
  let wanted = () => true;
  let ready = false;
  let wait = 0;
  figures.forEach((entry, at) => {
    const input = make("input", { type: "radio", name: "wavelength", value: at, checked: at === 0 });
    input.addEventListener("change", () => { shown = entry; tell(); paint(); });
    box.append(make("label", {}, input, `${entry.wavelength_nm} nm`));
  });
  plot.classList.add("waiting");
  $("chart").hidden = false;
  tell();

  function tell() {
    const notes = shown.line ? [shown.line] : [];
    if (shown.left_out) notes.push(`${count(shown.left_out, "reading has", "readings have")} no number or no length and cannot be drawn.`);
    if (shown.thinned) notes.push(`${count(shown.thinned, "pass", "passes")} far from the limit ${shown.thinned === 1 ? "is" : "are"} left out of the drawing, not of the table.`);
    $("undrawn").textContent = notes.join(" ");
    $("undrawn").hidden = !notes.length;
  }
  function colors() {
    const style = getComputedStyle(document.documentElement);
    const read = (name) => style.getPropertyValue(`--${name}`).trim();
    return { ink: read("ink"), soft: read("soft"), rule: read("rule"), pass: read("pass"), "marginal pass": read("marginal"), "marginal fail": read("fail"), fail: read("fail"), "not judged": read("incomplete"), limit: read("soft"), line: read("ink") };
  }
  function kept(trace) {
    if (!trace.customdata) return trace;
    const places = range(0, trace.customdata.length).filter((at) => wanted(trace.customdata[at]));
    const pick = (list) => places.map((at) => list[at]);
    return { ...trace, x: pick(trace.x), y: pick(trace.y), customdata: pick(trace.customdata) };
  }
  function dressed(trace, color) {
    const tone = color[trace.meta];
    if (trace.mode === "lines") return { ...trace, line: { ...trace.line, color: tone } };
    const edge = trace.meta === "limit" ? { color: tone, width: 1.5 } : { color: trace.marker.symbol.endsWith("-open") ? tone : color.ink, width: trace.marker.symbol.endsWith("-open") ? 1.6 : 0.8 };
    return { ...trace, marker: { ...trace.marker, color: tone, line: edge } };
  }
  function paint() {
    if (!ready) return;
    const color = colors();
    const base = shown.figure.layout;
    const narrow = window.innerWidth < 640;
    const axis = { color: color.ink, gridcolor: color.rule, linecolor: color.ink, showline: true };
    const layout = { ...base, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: color.ink, family: getComputedStyle(document.body).fontFamily, size: narrow ? 12 : 14 },
      xaxis: { ...base.xaxis, ...axis, showgrid: false }, yaxis: { ...base.yaxis, ...axis }, dragmode: window.matchMedia("(pointer: coarse)").matches ? false : base.dragmode,
      legend: { ...base.legend, font: { size: narrow ? 11 : 13 } } };
    Plotly.react(plot, shown.figure.data.map(kept).map((trace) => dressed(trace, color)), layout, { displayModeBar: false, responsive: true, displaylogo: false });
  }
  function readout(point) {
    const link = point.customdata;
    const { links } = page;
    $("readout").replaceChildren(make("b", {}, fileText(links.label(link))), `: ${number(point.y)} dB at ${shown.wavelength_nm} nm over ${number(point.x, 1)} m, ${point.data.meta}. `, fileText(links.sentence(link) ?? ""));
  }
  return {
    filter(test, everything) { wanted = everything ? () => true : test; clearTimeout(wait); wait = setTimeout(paint, PAUSE); },
    start() {
      ready = true;
      plot.classList.remove("waiting");
      paint();
      plot.on("plotly_hover", (event) => readout(event.points[0]));
      plot.on("plotly_click", (event) => { readout(event.points[0]); page.table.show(event.points[0].customdata); });
      for (const turn of ["(prefers-color-scheme: dark)", "print"]) window.matchMedia(turn).addEventListener("change", paint);
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
