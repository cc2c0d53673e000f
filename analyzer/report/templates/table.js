// The table of links: a windowed list of our own. Only rows near the window exist; rows have one height, opened links
// any height (measured once shown). The page itself scrolls, so a phone has one scroll, not two.
const RANK = { fail: 0, incomplete: 1, marginal: 2, pass: 3 };
const AHEAD = 700;
const PRINTED = 2000;
const ALL_AT_ONCE = 250; // so few rows need no window, and the browser's own search finds them all

function linkTable(page) {
  const { links, data } = page;
  const total = rowsOf(data.links);
  const every = tableColumns(page);
  let columns = every;
  const state = { verdict: new Set(), facets: {}, mark: "", words: "", finding: null, only: null, sort: "verdict", down: false, shown: [], at: 0, open: new Map(), everything: false };
  const grid = $("table");
  const body = make("div", { class: "body", role: "rowgroup", tabindex: -1 });
  const above = make("div", { "aria-hidden": "true" });
  const below = make("div", { "aria-hidden": "true" });
  const live = new Map();
  const kept = new Map(); // opened panels: what was unfolded or typed in them outlives their going out of sight
  const cache = {};
  let rowHeight = 36;
  const watch = new ResizeObserver((entries) => {
    let moved = false;
    for (const entry of entries) {
      const link = Number(entry.target.dataset.link);
      const height = entry.target.offsetHeight;
      if (height && state.open.has(link) && Math.abs(state.open.get(link) - height) > 0.5) { state.open.set(link, height); moved = true; }
    }
    if (moved) draw();
  });

  // which links, in which order
  function haystack() {
    cache.words ??= range(0, total).map((link) => ["label", "cable", "strand", "place_a", "place_b", "area", "medium", "type", "configuration", "proved", "missing", "sentence"].map((name) => links[name](link) ?? "").join("\u0000").toLowerCase());
    return cache.words;
  }
  function passes() {
    const words = state.words.toLowerCase().split(/\s+/).filter(Boolean);
    const text = words.length ? haystack() : null;
    const facets = Object.entries(state.facets);
    const named = state.finding === null ? null : new Set(data.findings[state.finding].links);
    return (link) => (!state.verdict.size || state.verdict.has(links.verdict(link))) && (!named || named.has(link)) && (!state.only || state.only.named.has(link)) && (!state.mark || (page.marks.word(link) ?? "none") === state.mark) && facets.every(([name, value]) => links[name](link) === value) && words.every((word) => text[link].includes(word));
  }
  function labelRank() {
    if (!cache.rank) {
      const natural = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
      const order = range(0, total).sort((a, b) => natural.compare(links.label(a), links.label(b)) || a - b);
      cache.rank = new Int32Array(total);
      order.forEach((link, at) => { cache.rank[link] = at; });
    }
    return cache.rank;
  }
  // Sorting takes longer than filtering, so the order is kept until another heading is pressed or a mark changes.
  function ordered() {
    const key = `${state.sort} ${state.down}`;
    if (cache.key !== key) { cache.order = range(0, total).sort(comparison()); cache.key = key; }
    return cache.order;
  }
  function comparison() {
    const read = every.find((column) => column.name === state.sort).value;
    const keys = range(0, total).map(read);
    const value = (link) => keys[link];
    const sign = state.down ? -1 : 1;
    // a failure without a number (no light arrives) lies farther off than any number
    const room = (link) => links.margin_db(link) ?? (links.verdict(link) === "fail" ? -Infinity : null);
    const nearest = (a, b) => missingLast(room(a), room(b), 1) || a - b;
    return (a, b) => missingLast(value(a), value(b), sign) || nearest(a, b);
  }
  function missingLast(a, b, sign) {
    if (a === b) return 0;
    if (a === null || a === undefined) return 1;
    if (b === null || b === undefined) return -1;
    return (a < b ? -1 : 1) * sign;
  }
  function refresh(keep = null) {
    const wanted = passes();
    state.shown = ordered().filter(wanted);
    state.at = Math.max(0, keep === null ? 0 : state.shown.indexOf(keep));
    body.style.minHeight = `${state.shown.length * rowHeight}px`; // while rows change hands the page must not shrink under the reader
    clearRows();
    tell();
    draw();
    body.style.minHeight = "";
    for (const chart of page.charts) chart.filter(wanted, state.shown.length === total);
  }
  function tell() {
    const some = state.shown.length;
    const finding = state.finding === null ? "" : `, named by the finding ${data.findings[state.finding].code}`;
    $("shown").textContent = some === total ? `All ${count(total, "link", "links")} shown.` : `${some.toLocaleString("en-US")} of ${count(total, "link", "links")} shown${finding}${state.only ? `: ${state.only.words}` : ""}.`;
    if (some !== total) $("shown").append(" ", make("button", { class: "plain", type: "button", on: { click: clearFilters } }, "Show all links"));
    grid.setAttribute("aria-rowcount", String(some + 1));
    for (const button of $("strip").children) button.setAttribute("aria-pressed", String(state.verdict.has(button.dataset.verdict)));
  }

  // where rows stand
  function openPlaces() {
    const places = [];
    for (const [link, height] of state.open) {
      const at = state.position.get(link);
      if (at !== undefined) places.push([at, height]);
    }
    return places.sort((a, b) => a[0] - b[0]);
  }
  function offset(at, places) {
    return places.reduce((sum, [place, height]) => (place < at ? sum + height : sum), at * rowHeight);
  }
  function firstAt(pixels, places) {
    let extra = 0;
    for (const [place, height] of places) {
      if (place * rowHeight + extra + rowHeight + height > pixels) { const at = Math.floor((pixels - extra) / rowHeight); return Math.max(0, Math.min(at, place)); }
      extra += height;
    }
    return Math.max(0, Math.floor((pixels - extra) / rowHeight));
  }
  function draw() {
    state.position = new Map();
    for (const link of state.open.keys()) { const at = state.shown.indexOf(link); if (at >= 0) state.position.set(link, at); }
    const places = openPlaces();
    const top = -body.getBoundingClientRect().top;
    const length = state.shown.length;
    let first = Math.min(firstAt(top - AHEAD, places), Math.max(0, length - 1));
    let last = Math.min(length, firstAt(top + window.innerHeight + AHEAD, places) + 1);
    if (state.everything || length <= ALL_AT_ONCE) { first = 0; last = Math.min(length, PRINTED); }
    last = Math.max(last, Math.min(length, first + 1));
    const wanted = new Set(state.shown.slice(first, last));
    for (const [link, parts] of live) if (!wanted.has(link)) dropRow(link, parts);
    above.style.height = `${offset(first, places)}px`;
    below.style.height = `${state.everything ? 0 : Math.max(0, offset(length, places) - offset(last, places))}px`;
    let cursor = above.nextSibling;
    const place = (element) => { if (cursor === element) cursor = cursor.nextSibling; else body.insertBefore(element, cursor); };
    for (let at = first; at < last; at += 1) {
      const parts = liveRow(state.shown[at], at);
      place(parts.row);
      if (parts.detail) place(parts.detail);
    }
    const active = live.get(state.shown[state.at]) ?? live.get(state.shown[first]);
    for (const parts of live.values()) parts.row.tabIndex = parts === active ? 0 : -1;
  }
  function dropRow(link, parts) {
    if (parts.row.contains(document.activeElement) || parts.detail?.contains(document.activeElement)) body.focus({ preventScroll: true });
    if (parts.detail) { watch.unobserve(parts.detail); parts.detail.remove(); }
    parts.row.remove();
    live.delete(link);
  }
  function clearRows() { for (const [link, parts] of live) dropRow(link, parts); }
  function liveRow(link, at) {
    let parts = live.get(link);
    if (!parts) { parts = { row: makeRow(link), detail: null }; live.set(link, parts); }
    parts.row.setAttribute("aria-rowindex", String(at + 2));
    const open = state.open.has(link);
    parts.row.setAttribute("aria-expanded", String(open));
    if (open && !parts.detail) {
      if (!kept.has(link)) kept.set(link, linkDetail(page, link, columns.length));
      parts.detail = kept.get(link);
      parts.detail.dataset.link = String(link);
      watch.observe(parts.detail);
    } else if (!open && parts.detail) { watch.unobserve(parts.detail); parts.detail.remove(); parts.detail = null; }
    return parts;
  }
  function makeRow(link) {
    const row = make("div", { class: "row", role: "row", tabindex: -1, "aria-level": 1 });
    row.dataset.link = String(link);
    for (const column of columns) {
      const box = make("div", { role: "gridcell", class: [column.kind, column.second ? "second" : ""].filter(Boolean).join(" ") || null });
      column.show(link, box);
      row.append(box);
    }
    return row;
  }

  // moving, opening, addressing
  function focusRow(at) {
    state.at = Math.max(0, Math.min(at, state.shown.length - 1));
    reveal(state.at);
    live.get(state.shown[state.at])?.row.focus({ preventScroll: true });
  }
  function reveal(at, center = false) {
    const places = openPlaces();
    const y = body.getBoundingClientRect().top + offset(at, places);
    const head = grid.firstChild.offsetHeight;
    if (center) window.scrollBy(0, y - head - 60);
    else if (y < head) window.scrollBy(0, y - head);
    else if (y + rowHeight > window.innerHeight) window.scrollBy(0, y + rowHeight - window.innerHeight + 8);
    draw();
  }
  function toggle(link, open = !state.open.has(link)) {
    if (open) state.open.set(link, state.open.get(link) ?? 420);
    else { state.open.delete(link); kept.delete(link); }
    state.at = state.shown.indexOf(link);
    draw();
    if (open) page.select(link);
    if (open) history.replaceState(null, "", linkAddress(links.label(link)));
    else if (decodedAddress() === links.label(link)) history.replaceState(null, "", "#");
  }
  function decodedAddress() {
    if (!location.hash.startsWith("#link=")) return null;
    try { return decodeURIComponent(location.hash.slice(6)); } catch { return null; }
  }
  function follow() {
    const label = decodedAddress();
    if (label === null) return;
    const link = range(0, total).find((row) => links.label(row) === label);
    if (link === undefined) { $("shown").textContent = "The address names a link that these records do not hold."; return; }
    show(link);
  }
  function show(link) {
    if (!state.shown.includes(link)) clearFilters();
    toggle(link, true);
    reveal(state.at, true);
    focusRow(state.at);
  }
  function onKey(event) {
    if (event.target !== body && !event.target.classList.contains("row")) {
      if (event.key === "Escape") { const panel = event.target.closest(".detail"); if (panel) { toggle(Number(panel.dataset.link), false); focusRow(state.at); } }
      return;
    }
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const page_ = Math.max(1, Math.floor((window.innerHeight - 120) / rowHeight));
    const moves = { ArrowDown: state.at + 1, ArrowUp: state.at - 1, Home: 0, End: state.shown.length - 1, PageDown: state.at + page_, PageUp: state.at - page_ };
    const link = state.shown[state.at];
    if (event.key in moves) focusRow(moves[event.key]);
    else if (event.key === "Enter" || event.key === " ") { toggle(link); focusRow(state.at); }
    else if (event.key === "Escape") { toggle(link, false); focusRow(state.at); }
    else return;
    event.preventDefault();
  }

  // filters
  function clearFilters() {
    state.verdict.clear(); state.facets = {}; state.mark = ""; state.words = ""; state.finding = null; state.only = null;
    for (const input of $("tools").querySelectorAll("input, select")) input.value = "";
    refresh();
  }
  function filterFinding(at) {
    clearFilters();
    state.finding = at;
    $("facet-finding").value = String(at);
    refresh();
    $("links").scrollIntoView();
    focusRow(0);
  }
  function tools() {
    const search = make("input", { type: "search", id: "search", autocomplete: "off", spellcheck: "false" });
    let wait = 0;
    search.addEventListener("input", () => { clearTimeout(wait); wait = setTimeout(() => { state.words = search.value; refresh(); }, total > 20000 ? 90 : 20); });
    search.addEventListener("keydown", (event) => { if (event.key === "ArrowDown") { event.preventDefault(); focusRow(0); } });
    $("tools").append(make("label", { class: "search" }, "Search labels, places, sentences", search));
    for (const [name, word] of [["medium", "Medium"], ["type", "Type"], ["configuration", "Configuration"], ["area", "Area"], ["cable", "Cable"]]) {
      const own = name === "cable" ? (link) => links.cable(link) !== links.label(link) : () => true;
      const values = [...new Set(range(0, total).filter(own).map(links[name]))].filter((value) => value !== null).sort(new Intl.Collator("en", { numeric: true }).compare);
      if (values.length < 2) continue;
      const select = make("select", { id: `facet-${name}` }, make("option", { value: "" }, "all"), ...values.map((value, at) => make("option", { value: at + 1 }, value)));
      select.addEventListener("change", () => { if (select.value) state.facets[name] = values[select.value - 1]; else delete state.facets[name]; refresh(); });
      $("tools").append(make("label", {}, word, select));
    }
    findingFacet();
    markFacet();
  }
  function findingFacet() {
    const named = data.findings.map((finding, at) => [finding, at]).filter(([finding]) => finding.links.length);
    if (!named.length) return;
    const select = make("select", { id: "facet-finding" }, make("option", { value: "" }, "all"), ...named.map(([finding, at]) => make("option", { value: at }, `${finding.code} (${finding.links.length.toLocaleString("en-US")})`)));
    select.addEventListener("change", () => { state.finding = select.value === "" ? null : Number(select.value); refresh(); });
    $("tools").append(make("label", {}, "Finding", select));
  }
  function markFacet() {
    const words = ["accept", "query", "retest", "conflict", "lapsed"].filter((word) => range(0, total).some((link) => page.marks.word(link) === word));
    let select = $("facet-mark");
    if (!select) {
      select = make("select", { id: "facet-mark" });
      select.addEventListener("change", () => { state.mark = select.value; refresh(); });
      $("tools").append(make("label", { hidden: true }, "Mark", select));
    }
    select.replaceChildren(make("option", { value: "" }, "all"), ...[...words, "none"].map((word) => make("option", { value: word }, word === "none" ? "not marked" : word)));
    select.value = state.mark;
    select.parentElement.hidden = !words.length && !state.mark;
  }
  function strip() {
    const verdicts = ["pass", "marginal", "fail", "incomplete"];
    const shares = verdicts.filter((verdict) => data.totals[verdict]).map((verdict) => {
      const share = make("div", { class: `share ${verdict}` });
      share.style.flexGrow = String(data.totals[verdict]);
      return share;
    });
    $("band").append(...shares);
    for (const verdict of verdicts) {
      const many = data.totals[verdict] ?? 0;
      const button = make("button", { type: "button", class: verdict, "aria-pressed": "false", disabled: !many }, verdictWord(verdict), " ", make("b", {}, many.toLocaleString("en-US")));
      button.dataset.verdict = verdict;
      button.addEventListener("click", () => { if (!state.verdict.delete(verdict)) state.verdict.add(verdict); refresh(); });
      $("strip").append(button);
    }
    $("counts").hidden = false;
  }
  function headings() {
    const head = make("div", { class: "row headings", role: "row", "aria-rowindex": 1 });
    for (const column of columns) {
      const button = make("button", { type: "button" }, column.word);
      const box = make("div", { role: "columnheader", class: [column.kind === "number" ? "number" : "", column.second ? "second" : ""].filter(Boolean).join(" ") || null, "aria-sort": "none" }, button);
      box.dataset.name = column.name;
      button.addEventListener("click", () => { state.down = state.sort === column.name && !state.down; state.sort = column.name; sortMarks(head); refresh(); });
      head.append(box);
    }
    sortMarks(head);
    return head;
  }
  function columnsChanged() {
    columns = choice.shown();
    grid.replaceChild(headings(), grid.firstChild);
    clearRows();
    widths();
    draw();
  }
  function sortMarks(head) {
    for (const box of head.children) box.setAttribute("aria-sort", box.dataset.name === state.sort ? (state.down ? "descending" : "ascending") : "none");
  }
  function widths() {
    const narrow = window.matchMedia("screen and (max-width: 46rem)").matches && !state.everything;
    const onPaper = (width) => `minmax(0, ${parseFloat(width.replace("minmax(", ""))}fr)`;
    grid.style.setProperty("--columns", columns.filter((column) => !(narrow && column.second)).map((column) => (state.everything ? onPaper(column.width) : column.width)).join(" "));
    const probe = make("div", { class: "row" });
    body.append(probe);
    rowHeight = probe.getBoundingClientRect().height || rowHeight;
    probe.remove();
  }
  function whole(on) {
    state.everything = on;
    for (const fold of document.querySelectorAll(`#terms details, #findings details, #records details${total <= PRINTED ? ", #map details" : ""}`)) {
      if (on && !fold.open) { fold.open = true; fold.dataset.printed = ""; }
      else if (!on && "printed" in fold.dataset) { fold.open = false; delete fold.dataset.printed; }
    }
    widths();
    draw();
    const cut = on && state.shown.length > PRINTED;
    if (cut) $("shown").textContent = `The first ${PRINTED.toLocaleString("en-US")} of ${state.shown.length.toLocaleString("en-US")} links are printed; filter the table to print others.`;
    else tell();
  }

  every.find((column) => column.name === "label").value = (link) => labelRank()[link];
  const choice = columnTools(page, every, { columns: () => columns, rows: () => state.shown, columnsChanged });
  columns = choice.shown();
  tools();
  strip();
  grid.append(headings(), body);
  body.append(above, below);
  $("links").hidden = false;
  widths();
  refresh();
  body.addEventListener("click", (event) => {
    const row = event.target.closest(".row");
    if (!row || window.getSelection().toString()) return;
    toggle(Number(row.dataset.link));
    row.focus({ preventScroll: true });
  });
  body.addEventListener("focusin", (event) => { const row = event.target.closest(".row"); if (row) state.at = state.shown.indexOf(Number(row.dataset.link)); });
  grid.addEventListener("keydown", onKey);
  let asked = false;
  const later = () => { if (asked) return; asked = true; requestAnimationFrame(() => { asked = false; draw(); }); };
  window.addEventListener("scroll", later, { passive: true });
  window.addEventListener("resize", () => { widths(); later(); });
  window.addEventListener("hashchange", follow);
  window.addEventListener("beforeprint", () => whole(true));
  window.addEventListener("afterprint", () => whole(false));
  // Marks changed: rows of these links are made anew (of all, when null); what is open stays open.
  function remark(rows) {
    cache.key = null;
    if (!rows) kept.clear();
    markFacet();
    if (page.marks.any() && choice.need("mark")) columnsChanged();
    if (state.mark || (state.sort === "mark")) { refresh(); return; }
    for (const [link, parts] of live) {
      if (rows && !rows.includes(link)) continue;
      const focused = parts.row.contains(document.activeElement);
      const fresh = makeRow(link);
      for (const name of ["aria-rowindex", "aria-expanded"]) fresh.setAttribute(name, parts.row.getAttribute(name));
      fresh.tabIndex = parts.row.tabIndex;
      parts.row.replaceWith(fresh);
      parts.row = fresh;
      if (focused) fresh.focus({ preventScroll: true });
      if (!rows && parts.detail) { watch.unobserve(parts.detail); parts.detail.remove(); parts.detail = null; }
    }
    draw();
  }
    // Links named from outside (a bar of a chart), with the words that say which.
  function only(named, words) {
    clearFilters();
    state.only = { named, words };
    refresh();
    $("links").scrollIntoView();
    focusRow(0);
  }
  const tellFilter = (chart) => chart.filter(passes(), state.shown.length === total);
  return { follow, show, filterFinding, remark, only, tellFilter, warm: haystack };
}
