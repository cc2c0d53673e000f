// What an opened link tells of its past, of likely causes, and beside other links.
const likeOf = (r, row) => [r.parameter(row), r.wavelength_nm(row), r.pair(row), r.end(row), r.direction(row)].join("\u0000");

// Every reading that was tested again, oldest first, beside the one now in force.
function retestHistory(page, rows) {
  const r = page.readings;
  const tested = (row) => page.records.tested_at(r.record(row));
  const likes = new Map();
  for (const row of rows) likes.set(likeOf(r, row), [...(likes.get(likeOf(r, row)) ?? []), row]);
  const again = [...likes.values()].filter((some) => some.some((row) => !r.in_force(row)));
  const lines = again.flatMap((some) => [...some].sort((a, b) => r.in_force(a) - r.in_force(b) || (tested(a) ?? "").localeCompare(tested(b) ?? "") || a - b).map((row, at) => {
    const unit = page.data.units[r.parameter(row)];
    return make("tr", { class: r.in_force(row) ? "now" : null }, cell(at ? "" : readingName(page, row)), cell(tested(row) ?? "time not stated"), cell(r.in_force(row) ? "in force" : "superseded"), cell(valueText(page, row), "number"),
      cell(r.limit(row) === null ? "" : inUnit(r.limit(row), unit) + doubt(page, row), "number"), cell(inUnit(r.margin(row), unit), "number"), cell(r.verdict(row) ?? ""), cell(origin(page, row)));
  }));
  return sheet("history", ["Reading", "Tested, zone not stated", "Standing", "Measured", "Limit", "Margin", "Verdict", "From"], lines, [3, 4, 5]);
}

// What may lie behind a reading that does not pass: guesses from numbers, each with the step that would test it.
function likelyCauses(page, link) {
  const c = page.causes;
  const own = range(0, rowsOf(page.data.causes)).filter((at) => c.link(at) === link);
  if (!own.length) return [];
  const told = own.map((at) => make("li", {}, make("b", {}, fileText(c.cause(at))), c.speaks_for(at) ? ": " : "", fileText(c.speaks_for(at) ?? ""),
    ...(c.speaks_against(at) ? ["; against it: ", fileText(c.speaks_against(at))] : []), make("br"), ...(c.next_step(at) ? [make("span", { class: "next" }, fileText(c.next_step(at)))] : []), ...(c.basis(at) ? [" ", make("span", { class: "code" }, fileText(c.basis(at)))] : [])));
  return [make("h3", {}, "Likely causes, the likeliest first"), make("ol", { class: "causes" }, ...told)];
}

// Two to four links side by side.
const MOST_COMPARED = 4;
const COMPARED_AT_FIRST = 24;
function compareButton(page, link) {
  const on = page.compared.includes(link);
  const full = page.compared.length >= MOST_COMPARED && !on;
  return make("button", { type: "button", class: "compare", "aria-pressed": String(on), disabled: full, on: { click: (event) => {
    page.compared = page.compared.includes(link) ? page.compared.filter((each) => each !== link) : [...page.compared, link];
    event.target.replaceWith(compareButton(page, link));
    for (const other of document.querySelectorAll(".detail")) if (Number(other.dataset.link) !== link) other.querySelector(".compare")?.replaceWith(compareButton(page, Number(other.dataset.link)));
    showCompared(page);
    document.querySelector(`.detail[data-link="${link}"] .compare`)?.focus({ preventScroll: true });
  } } }, on ? "Remove from the comparison" : full ? `${MOST_COMPARED} links are compared already` : "Compare this link");
}
function showCompared(page) {
  const box = $("compared");
  const { links, readings: r } = page;
  const some = page.compared;
  box.hidden = !some.length;
  if (!some.length) { box.replaceChildren(); return; }
  const clear = make("button", { type: "button", class: "plain", on: { click: () => {
    page.compared = [];
    for (const panel of document.querySelectorAll(".detail")) panel.querySelector(".compare")?.replaceWith(compareButton(page, Number(panel.dataset.link)));
    showCompared(page);
  } } }, "Clear the comparison");
  const head = make("h3", {}, "Compared ", clear);
  if (some.length < 2) { box.replaceChildren(head, make("p", { class: "aside" }, make("b", {}, fileText(links.label(some[0]))), ": open another link and compare it too.")); return; }
  const likes = new Map();
  some.forEach((link, at) => {
    for (let row = page.data.readings.start[link]; row < page.data.readings.start[link + 1]; row += 1) {
      if (!r.in_force(row)) continue;
      const key = likeOf(r, row);
      if (!likes.has(key)) likes.set(key, Array(some.length).fill(null));
      likes.get(key)[at] ??= row; // the first is the nearest to its limit
    }
  });
  const least = (rows) => Math.min(...rows.map((row) => (row === null ? Infinity : r.margin(row) ?? (r.verdict(row) === "fail" ? -Infinity : Infinity))));
  const name = (rows) => { const row = rows.find((each) => each !== null); return readingName(page, row).replace(/, [\d.,]+ MHz$/, ""); };
  const told = (row) => (row === null ? "" : make("span", {}, make("b", {}, valueText(page, row)), make("br"), r.limit(row) === null ? "" : `limit ${inUnit(r.limit(row), page.data.units[r.parameter(row)])}, `, marginWords(page, row)));
  const facts = [["Verdict", (link) => verdictWord(links.verdict(link))], ["Least margin", (link) => withUnit(number(links.margin_db(link)), "dB")], ["Type", (link) => fileText([links.type(link), links.configuration(link)].filter(Boolean).join(" "))], ["Length", (link) => inUnit(links.length_m(link), "m")], ["Decided by", (link) => fileText(decidedBy(page, link))]];
  const upper = facts.map(([word, read]) => make("tr", {}, cell(word), ...some.map((link) => cell(read(link)))));
  const lower = [...likes.values()].sort((a, b) => (least(a) < least(b) ? -1 : least(a) > least(b) ? 1 : 0)).map((rows) => make("tr", {}, cell(name(rows)), ...rows.map((row) => cell(told(row)))));
  const heads = ["Reading", ...some.map((link) => links.label(link))];
  const left = lower.length - COMPARED_AT_FIRST;
  box.replaceChildren(head, wide(sheet("compared", heads, [...upper, ...(left > 4 ? lower.slice(0, COMPARED_AT_FIRST) : lower)])),
    ...(left > 4 ? [folded(`${left} more readings`, wide(sheet("compared", heads, lower.slice(COMPARED_AT_FIRST))))] : []));
}
