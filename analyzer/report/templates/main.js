const LATE = 5000; // so many links take a moment to unpack
// The head is small and comes first: whoever opens the page reads it while the rest is still on its way.
const painted = () => new Promise((resolve) => { requestAnimationFrame(() => setTimeout(resolve)); setTimeout(resolve, 1000); }); // a page in the background paints nothing
const arrived = () => new Promise((resolve) => { if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", resolve, { once: true }); else resolve(); });

async function begin() {
  const data = JSON.parse(await unpack("head"));
  const page = { data };
  let ready;
  const table = new Promise((resolve) => { ready = resolve; });
  showTerms(data);
  showFindings(data, { filterFinding: (at) => table.then(() => page.table.filterFinding(at)) });
  showRecords(data, table);
  $("unpacking").hidden = data.totals.links < LATE;
  await painted();
  performance.mark("head");
  await arrived();
  Object.assign(data, JSON.parse(await unpack("data")));
  data.findings.forEach((finding, at) => { finding.links = data.named[at]; });
  Object.assign(page, {
    links: readers(data.links), records: readers(data.records, ["facts", "said_by", "start"]), readings: readers(data.readings, ["start"]),
    facts: readers(data.records.facts), saidBy: readers(data.records.said_by), limits: readers(data.limits), reasons: readers(data.reasons),
    files: readers(data.files), blocks: readers(data.blocks), headings: readers(data.headings), causes: readers(data.causes), events: readers(data.events, ["traces", "decide", "start"]),
  });
  page.fileRow = new Map(range(0, rowsOf(data.files)).map((at) => [page.files.file(at), at]));
  page.blockRow = new Map(range(0, rowsOf(data.blocks)).map((at) => [page.blocks.block(at), at]));
  let loaded;
  page.plotly = new Promise((resolve) => { loaded = resolve; });
  const charts = [marginChart, lossChart];
  if (!data.curves.reading.length && !data.figure.length && !data.margins.length) loaded();
  page.charts = [];
  page.compared = [];
  page.select = (link) => { page.selected = link; for (const each of page.charts) each.select(); };
  page.marks = reviewMarks(page);
  page.table = linkTable(page);
  markTools(page);
  $("made").textContent = `${data.software.name} ${data.software.version}. This file needs no network and sends nothing.`;
  const map = jobMap(page);
  if (map) { page.charts.push(map); map.start(); }
  const drawn = charts.map((chart) => chart(page)).filter(Boolean);
  $("unpacking").hidden = true;
  ready();
  page.table.follow();
  document.documentElement.dataset.ready = "table";
  performance.mark("table");
  await painted();
  if (drawn.length || data.curves.reading.length) loaded(loadPlotly());
  await page.plotly;
  for (const chart of drawn) { page.charts.push(chart); page.table.tellFilter(chart); chart.start(); }
  document.documentElement.dataset.ready = "chart";
  performance.mark("chart");
  (window.requestIdleCallback ?? setTimeout)(() => page.table.warm()); // the first search need not wait for its words
}
begin().catch((error) => {
  $("trouble").textContent = `This page could not be unpacked (${error.message}). Open it in a browser of 2023 or later, or write it again.`;
  $("trouble").hidden = false;
});
