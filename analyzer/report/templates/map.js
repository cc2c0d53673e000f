// The map of the job: building, room, panel, port. A cell says its port and its verdict, or its least margin, in words.
const CELLS_AT_ONCE = 800;
const VERDICTS = ["fail", "incomplete", "marginal", "pass"];

function jobMap(page) {
  const place = readers(page.data.map);
  const total = rowsOf(page.data.links);
  if (total < 2) return null;
  const natural = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
  const box = $("map-body");
  let wanted = () => true;
  let says = "verdict";
  let wait = 0;
  const unfolded = new Set();
  for (const [value, words] of [["verdict", "the verdict"], ["margin", "the least margin"]]) {
    const input = make("input", { type: "radio", name: "cells", value, checked: value === says });
    input.addEventListener("change", () => { says = value; draw(); });
    $("map-says").append(make("label", {}, input, words));
  }
  const narrow = () => window.matchMedia("screen and (max-width: 46rem)").matches; // there a panel that passes whole stays folded
  const within = (some, read) => {
    const groups = new Map();
    for (const link of some) { const name = read(link); if (!groups.has(name)) groups.set(name, []); groups.get(name).push(link); }
    return [...groups].sort(([a], [b]) => (a === null) - (b === null) || natural.compare(a ?? "", b ?? ""));
  };
  function told(some) {
    const counts = VERDICTS.map((verdict) => [verdict, some.filter((link) => page.links.verdict(link) === verdict).length]).filter(([, many]) => many);
    if (counts.length === 1) return `${some.length === 1 ? "" : "all "}${some.length.toLocaleString("en-US")} ${counts[0][0]}`;
    return counts.map(([verdict, many]) => `${many.toLocaleString("en-US")} ${verdict}`).join(", ");
  }
  const nearest = (link) => { const margin = page.links.margin_db(link); return margin === null ? page.links.verdict(link) : `${number(margin)} dB`; };
  function cellOf(link, first) {
    const verdict = page.links.verdict(link);
    const margin = page.links.margin_db(link);
    const shade = says === "margin" && margin !== null ? shadeOf(margin) : null;
    const words = says === "margin" ? nearest(link) : verdict;
    const button = make("button", { type: "button", class: `cell ${verdict}${shade ? ` shaded ${shade}-edge` : ""}`, tabindex: first ? 0 : -1, "aria-label": `${page.links.label(link)}: ${words}`, "aria-current": page.selected === link ? "true" : null },
      make("bdi", { class: "port" }, place.port(link)), make("span", { class: "said" }, words));
    button.dataset.link = String(link);
    return button;
  }
  function cellsOf(some) {
    const sorted = [...some].sort((a, b) => natural.compare(place.port(a), place.port(b)) || natural.compare(page.links.label(a), page.links.label(b)));
    return make("div", { class: "cells", role: "group" }, ...sorted.map((link, at) => cellOf(link, at === 0)));
  }
  const nameOf = (name, none) => (name === null ? make("span", { class: "aside" }, none) : fileText(name));
  function panelRow(name, some, key, open) {
    const head = [make("b", {}, nameOf(name, "no panel named")), " ", make("span", { class: "aside" }, told(some))];
    const dull = narrow() && some.every((link) => page.links.verdict(link) === "pass");
    if (open && !dull) return make("div", { class: "panel" }, make("p", {}, ...head), cellsOf(some));
    const fold = make("details", { class: "panel", open: unfolded.has(key) }, make("summary", {}, ...head));
    fold.addEventListener("toggle", () => { if (fold.open) unfolded.add(key); else unfolded.delete(key); if (fold.open && fold.childElementCount === 1) fold.append(cellsOf(some)); });
    if (fold.open) fold.append(cellsOf(some));
    return fold;
  }
  function panelsOf(some, key, open) {
    const rooms = within(some, place.room);
    return rooms.flatMap(([room, inRoom]) => {
      const panels = within(inRoom, place.panel);
      const head = rooms.length === 1 && room === null ? [] : [make("h4", {}, nameOf(room, "no room named"), ...(panels.length > 1 && rooms.length > 1 ? [" ", make("span", { class: "aside" }, told(inRoom))] : []))];
      return [...head, ...panels.map(([panel, ports]) => panelRow(panel, ports, JSON.stringify([key, room, panel]), open))];
    });
  }
  // The map grows and shrinks above whoever reads the table: what he reads stays where it is.
  function draw() {
    const top = () => $("links").getBoundingClientRect().top;
    const before = top();
    fill();
    if (before < window.innerHeight && top() !== before) window.scrollBy(0, top() - before);
  }
  // A small job lies open; of a large one each building, and each panel, opens by itself.
  function fill() {
    const some = range(0, total).filter(wanted);
    const open = some.length <= CELLS_AT_ONCE;
    const buildings = within(some, place.building);
    box.replaceChildren(...buildings.map(([building, inside]) => {
      const head = [nameOf(building, "no building or area named"), " ", make("span", { class: "aside" }, told(inside))];
      const alone = buildings.length === 1 && building === null;
      if (open) return make("section", { class: "building" }, ...(alone ? [] : [make("h3", {}, ...head)]), ...panelsOf(inside, building, true));
      const key = JSON.stringify([building]);
      const fold = make("details", { class: "building", open: unfolded.has(key) }, make("summary", {}, make("b", {}, ...head)));
      fold.addEventListener("toggle", () => { if (fold.open) unfolded.add(key); else unfolded.delete(key); if (fold.open && fold.childElementCount === 1) fold.append(...panelsOf(inside, building, false)); });
      if (fold.open) fold.append(...panelsOf(inside, building, false));
      return fold;
    }));
    if (!some.length) box.append(make("p", { class: "aside" }, "No link is shown."));
    $("map-shades").replaceChildren(...(says === "margin" ? [shadeScale()] : []));
    $("map").hidden = false;
  }
  box.addEventListener("click", (event) => { const button = event.target.closest(".cell"); if (button) page.table.show(Number(button.dataset.link)); });
  box.addEventListener("keydown", (event) => {
    const button = event.target.closest(".cell");
    if (!button) return;
    const cells = [...button.parentElement.children];
    const at = cells.indexOf(button);
    const to = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: cells.length - 1 }[event.key];
    if (to === undefined || !cells[to]) return;
    event.preventDefault();
    button.tabIndex = -1;
    cells[to].tabIndex = 0;
    cells[to].focus();
  });
  return {
    filter(test) { wanted = test; clearTimeout(wait); wait = setTimeout(draw, PAUSE); },
    select() {
      for (const old of box.querySelectorAll("[aria-current]")) old.removeAttribute("aria-current");
      box.querySelector(`[data-link="${page.selected}"]`)?.setAttribute("aria-current", "true");
    },
    start: draw,
  };
}
