// Events of optical time-domain traces: one line for each joint, with its loss from either end.
const KIND_NOTES = { gainer: "seems to gain: the fibers scatter unequally, only the mean of both directions tells", ghost: "suspected echo" };

const OUTSIDE = ["launch cord", "tail cord"];
function eventTable(page, link) {
  const { data } = page;
  const e = page.events;
  const rows = range(data.events.start[link], data.events.start[link + 1]);
  if (!rows.length) return [];
  const taken = new Set();
  const joints = rows.flatMap((row) => {
    if (taken.has(row)) return [];
    const mate = e.partner(row);
    if (mate >= 0) taken.add(mate);
    return [mate >= 0 ? [row, mate] : [row]];
  });
  const ways = ["A-B", "B-A"].filter((way) => rows.some((row) => e.direction(row) === way));
  const undirected = rows.some((row) => e.direction(row) === null);
  const lossOf = (joint, way) => { const row = joint.find((each) => e.direction(each) === way); return row === undefined ? "" : inUnit(e.loss_db(row), "dB"); };
  const line = (joint) => {
    const [row] = joint;
    return make("tr", {}, cell(eventDistance(e, joint)), cell(eventKind(e, joint)),
      ...[...ways, ...(undirected ? [null] : [])].map((way) => cell(lossOf(joint, way), "number")),
      cell(inUnit(e.mean_db(row), "dB"), "number"), cell(inUnit(e.limit_db(row), "dB"), "number"), cell(inUnit(e.margin_db(row), "dB"), "number"), cell(e.component(row) === "none" ? "" : e.verdict(row) ?? ""),
      cell(told(e, joint, (each) => eventReflectance(e, each))), cell(eventSource(e, row)), cell(eventOrigin(page, joint)));
  };
  const heads = ["Distance", "Event", ...ways.map((way) => `Loss ${way}`), ...(undirected ? ["Loss"] : []), "Mean", "Allowed", "Margin", "Verdict", "Reflectance", "Limits from", "Read in"];
  const losses = ways.length + (undirected ? 1 : 0);
  const table = (some) => wide(sheet("events", heads, some.map(line), range(2, 2 + losses + 3)));
  const whole = joints.filter(([row]) => e.distance_m(row) !== null);
  const inLink = whole.filter(([row]) => !OUTSIDE.includes(e.place(row)));
  const beside = whole.filter(([row]) => OUTSIDE.includes(e.place(row)));
  const note = data.events.decide ? "The job lets events decide: a joint that fails makes its link fail." : "Each joint is judged for information; the loss by light source and power meter decides.";
  return [make("h3", {}, "Events along the fiber"), make("p", { class: "aside" }, `${note} Where both directions saw a joint, their mean is judged.`),
    ...[...new Set(inLink.map(([row]) => e.wavelength_nm(row)))].flatMap((wave) => [...(wave > 0 ? [make("h4", {}, `${wave} nm`)] : []), table(inLink.filter(([row]) => e.wavelength_nm(row) === wave))]), ...(beside.length ? [folded(`${count(beside.length, "event", "events")} in launch and tail cord`, table(beside))] : []), ...traceLines(page, link)];
}
// The same words for both directions are said once.
function told(e, joint, say) {
  const words = joint.map((row) => [e.direction(row), say(row)]).filter(([, text]) => text !== null);
  if (words.length === 2 && words[0][1] === words[1][1]) return words[0][1];
  return words.map(([way, text]) => [words.length > 1 ? way : null, text].filter(Boolean).join(" ")).join(", ");
}
function eventDistance(e, joint) {
  const [row] = joint;
  const seen = joint.map((each) => `${inUnit(e.distance_m(each), "m")}${e.direction(each) ? ` (${e.direction(each)})` : ""}`).join(", ");
  if (e.position_m(row) === null || OUTSIDE.includes(e.place(row))) return `${seen} from the instrument`;
  return make("span", {}, `${inUnit(e.position_m(row), "m")} from end A`, make("br"), make("span", { class: "aside" }, `${seen} in the traces`));
}
function eventKind(e, joint) {
  const [row] = joint;
  const component = e.component(row);
  const place = e.place(row) === "inside" || e.place(row) === "not known" ? null : e.place(row);
  const notes = [place, component === "none" ? "not judged" : component !== e.kind(row) ? `judged as ${component}` : null, ...Object.keys(KIND_NOTES).filter((name) => joint.some((each) => e[name](each))).map((name) => KIND_NOTES[name])];
  const said = notes.filter(Boolean).join("; ");
  return make("span", {}, e.kind(row) ?? "no kind stated", ...(said ? [make("br"), make("span", { class: "aside" }, said)] : []));
}
function eventReflectance(e, row) {
  if (e.reflectance_db(row) === null) return null;
  const value = `${{ below: "<", above: ">" }[e.reflectance_bound(row)] ?? ""}${number(e.reflectance_db(row))} dB`;
  return e.reflectance_limit_db(row) === null ? value : `${value}, allowed ${number(e.reflectance_limit_db(row))} dB: ${e.reflectance_verdict(row)}`;
}
// The document is said at once, the rest on demand.
function eventSource(e, row) {
  const source = e.source(row);
  if (source === null) return "";
  const [document] = source.split(": ");
  return document.length < source.length ? folded(fileText(document), fileText(source)) : fileText(source);
}
function eventOrigin(page, joint) {
  const e = page.events;
  const blocks = new Map();
  for (const row of joint) blocks.set(e.block(row), [...(blocks.get(e.block(row)) ?? []), e.row(row)]);
  const files = new Map();
  for (const [number, rows] of blocks) {
    const block = page.blockRow.get(number);
    if (block === undefined) continue;
    const name = [page.files.name(page.fileRow.get(page.blocks.file(block))), page.blocks.sheet(block)].filter(Boolean).join(", ");
    files.set(name, [...(files.get(name) ?? []), ...rows]);
  }
  return make("span", {}, ...[...files].flatMap(([name, rows], at) => [...(at ? [make("br")] : []), fileText(`${name}, ${rows.length > 1 ? "rows" : "row"} ${rows.join(", ")}`)]));
}
// What each trace tells of the whole link, beside what the power meter told.
function traceLines(page, link) {
  const t = readers(page.data.events.traces);
  const own = range(0, rowsOf(page.data.events.traces)).filter((at) => t.link(at) === link && t.trace_loss_db(at) !== null);
  return own.map((at) => {
    const name = [t.wavelength_nm(at) > 0 ? `${t.wavelength_nm(at)} nm` : null, t.direction(at)].filter(Boolean).join(" ");
    const beside = t.power_loss_db(at) === null ? "" : `, ${number(t.power_loss_db(at))} dB by power meter (difference ${number(t.difference_db(at))} dB)`;
    return make("p", { class: "sum" }, `${name}: ${number(t.trace_loss_db(at))} dB from end to end by the trace${beside}.`);
  });
}
