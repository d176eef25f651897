// The panel of what was tapped, and the tables with their last cells as buttons. All words go in as text, never as markup.
function make(tag, props = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [key, v] of Object.entries(props)) {
    if (key.startsWith("on")) node[key] = v;
    else if (key === "class") node.className = v;
    else if (v !== undefined && v !== false) node.setAttribute(key, v === true ? "" : v);
  }
  node.append(...inside.filter((each) => each !== null && each !== undefined));
  return node;
}
let quiet = 0;
function say(words) {
  $("said").textContent = words;
  clearTimeout(quiet);
  quiet = setTimeout(() => { $("said").textContent = ""; }, Math.max(3000, words.length * 70));
}
const button = (words, act, props = {}) => make("button", { type: "button", onclick: act, ...props }, words);
const inRow = (...inside) => make("div", { class: "row" }, ...inside);
let opened = null, cameFrom = null;

function closePanel() {
  panel.hidden = true;
  opened = null;
  chosen = [];
  paint();
  if (cameFrom && cameFrom.isConnected) cameFrom.focus();
  cameFrom = null;
}
function fill(title, figure, ...inside) {
  if (panel.hidden) cameFrom = document.activeElement;
  const large = figure && figure.classList.contains("p"); // a shop drawing takes the whole width
  const head = make("div", { class: "head" }, large ? null : figure, make("h2", {}, title), button("✕", closePanel, { "aria-label": T("close") }));
  panel.replaceChildren(head, ...(large ? [figure] : []), ...inside.filter(Boolean));
  panel.hidden = false;
  panel.focus({ preventScroll: true });
}
panel.addEventListener("keydown", (e) => { if (e.key === "Escape") closePanel(); });

// One control for one field of a thing.
function control(thing, field) {
  const [key, words, kind, unit] = field;
  const old = oldSize(thing.i, key);
  const note = old ? make("span", { class: "old" }, thing.k === "piece" ? T("cut to the old size {size}", { size: S(old) }) : T("done to the old size {size}", { size: S(old) })) : null;
  if (kind === "tick") {
    const on = value(thing.i, key) === true;
    return make("span", { class: "row" }, button((on ? "✓ " : "") + words, () => tick([[thing.i, key, !on]]), { "aria-pressed": String(on), "data-field": key }), note);
  }
  if (kind === "sum") {
    const count = sums.get(slot(thing.i, key)) || 0;
    return make("span", { class: "row" }, make("b", {}, count + " " + words), button("+1", () => tick([[thing.i, key, 1]]), { "aria-label": T("one more {what}", { what: words }) }), count > 0 ? button("−1", () => tick([[thing.i, key, -1]]), { "aria-label": T("one less {what}", { what: words }) }) : null);
  }
  const input = make("input", { type: "text", inputmode: kind === "number" ? "decimal" : "text", maxlength: D.bounds.letters, "data-field": key, autocomplete: "off" });
  const now = value(thing.i, key);
  input.value = now === undefined ? "" : String(now);
  input.onchange = () => {
    const text = input.value.trim().slice(0, D.bounds.letters);
    if (kind !== "number" || text === "") return tick([[thing.i, key, text]]);
    const number = Number(text.replace(",", "."));
    if (!Number.isFinite(number) || Math.abs(number) > D.bounds.number) { input.setAttribute("aria-invalid", "true"); return say(unit ? T("A number is wanted, in {unit}.", { unit }) : T("A number is wanted.")); }
    tick([[thing.i, key, number]]);
  };
  return make("span", { class: "row" }, make("label", {}, words + (unit ? ", " + unit : ""), input), note);
}

function card(mark) {
  const own = document.querySelector('tr[data-mark="' + CSS.escape(mark) + '"] svg');
  return own ? own.cloneNode(true) : null;
}
const piecesOf = (mark) => [...THINGS.values()].filter((t) => t.k === "piece" && t.n === mark);
const surfaceOf = (thing) => { const f = D.frames[thing.a[0][0]]; return (D.rooms.length > 1 ? D.rooms[f.r] + ", " : "") + f.n; };
const count = (list, field) => list.filter((t) => value(t.i, field) === true).length;

function openThings(list) {
  const first = list[0];
  const rest = list.slice(1, 5).filter((t) => t.i !== first.i);
  chosen = [first.i];
  opened = () => openThings(list);
  const also = rest.length ? inRow(make("span", {}, T("also here:")), ...rest.map((t) => button(t.n, () => openThings([t, ...list.filter((o) => o.i !== t.i)])))) : null;
  if (first.k === "piece") {
    const [size, tile] = D.marks[first.n];
    const others = piecesOf(first.n);
    fill(first.n + " · " + S(size), card(first.n),
      make("p", { class: "figures" }, T("{where}, out of tile {tile}", { where: surfaceOf(first), tile })),
      inRow(...first.t.map((f) => control(first, f))),
      make("p", {}, T("{count} of {mark} in all: {sawn} sawn, {laid} laid", { count: others.length, mark: first.n, sawn: count(others, "sawn"), laid: count(others, "laid") })),
      inRow(button(T("where else"), () => openMark(first.n)), button(T("tile broken +1"), () => broken(first))), also);
  } else {
    const figures = first.f.filter(([, v]) => v !== "").map(([k, v]) => k + ": " + v).join(" · ");
    const here = bySheet.some((places) => places.some((p) => p.thing.i === first.i));
    fill(first.n, null, make("p", { class: "figures" }, figures), ...first.t.map((f) => control(first, f)),
      here ? inRow(button(T("show on the drawing"), () => { locate([first.i]); })) : null, also);
  }
  paint();
}
function broken(piece) {
  const name = D.marks[piece.n][1];
  const tile = [...THINGS.values()].find((t) => t.k === "tile" && t.i === piece.r + "/tile/" + name);
  if (tile) { tick([[tile.i, "broken", 1]]); say(T("One more tile {name} broken: {count} in all.", { name, count: sums.get(slot(tile.i, "broken")) })); }
}
function openMark(mark) {
  const all = piecesOf(mark), [size, tile] = D.marks[mark];
  chosen = all.map((t) => t.i);
  opened = () => openMark(mark);
  const toSaw = all.filter((t) => value(t.i, "sawn") !== true), sawn = all.filter((t) => value(t.i, "sawn") === true);
  const where = new Map();
  for (const t of all) where.set(surfaceOf(t), [...(where.get(surfaceOf(t)) || []), t]);
  const stale = all.filter((t) => oldSize(t.i, "sawn"));
  fill(mark + " · " + S(size), card(mark), make("p", { class: "figures" }, T("{count} off, out of tile {tile}", { count: all.length, tile })),
    make("p", {}, T("{sawn} sawn, {laid} laid, {left} to saw", { sawn: sawn.length, laid: count(all, "laid"), left: toSaw.length })),
    stale.length ? make("p", { class: "old" }, T("{count} cut to the old size {size}", { count: stale.length, size: S(oldSize(stale[0].i, "sawn")) })) : null,
    inRow(
      toSaw.length ? button(T("one more sawn"), () => tick([[toSaw[0].i, "sawn", true]]), { class: "go" }) : null,
      toSaw.length > 1 ? button(T("all sawn"), () => tick(toSaw.map((t) => [t.i, "sawn", true]))) : null,
      sawn.length ? button(T("one less"), () => tick([[sawn[sawn.length - 1].i, "sawn", false]])) : null),
    make("div", { class: "list" }, ...[...where].map(([name, list]) => button(T("{where}: {count}, {laid} laid. Show", { where: name, count: list.length, laid: count(list, "laid") }), () => { locate(list.map((t) => t.i)); }))));
  paint();
}

const rows = [...THINGS.values()].filter((t) => t.row).map((thing) => ({ tr: thing.row, thing, cell: thing.row.lastElementChild }));
const markRows = [...document.querySelectorAll("tr[data-mark]")].map((tr) => ({ tr, mark: tr.dataset.mark, cell: tr.lastElementChild }));
// Tables get their buttons when the first of them is opened: the first in a row opens its thing, the last cell fills it in.
let prepared = false;
function prepare() {
  if (prepared) return;
  prepared = true;
  for (const table of document.querySelectorAll("table:not(.w)")) { // on a narrow page a row is a card: each cell says what it is
    const heads = [...table.querySelectorAll("thead th")];
    for (const row of table.querySelectorAll("tbody tr")) {
      const own = row.className || row.dataset.mark ? -1 : undefined; // the last cell of a thing's row is its button
      [...row.cells].slice(1, own).forEach((each, k) => { each.dataset.l = heads[k + 1].textContent; each.dataset.k = keyOf(heads[k + 1]); });
    }
  }
  for (const { tr, thing } of rows) tr.firstElementChild.replaceChildren(button(thing.n, () => openThings([thing])));
  for (const { tr, mark } of markRows) tr.firstElementChild.replaceChildren(button(mark, () => openMark(mark)));
}
function fillRows() {
  prepare();
  for (const { thing, cell } of rows) {
    if (thing.t.length === 1 && thing.t[0][2] === "tick") cell.replaceChildren(control(thing, thing.t[0]));
    else {
      const done = thing.t.filter((f) => isDone(thing, f));
      const words = thing.t.map((f) => (f[2] === "sum" ? sums.get(slot(thing.i, f[0])) : value(thing.i, f[0])) ?? "").map((v) => (v === true ? "✓" : v === false ? "" : String(v))).filter((v) => v !== "").join(", ");
      const old = thing.t.map((f) => oldSize(thing.i, f[0])).find(Boolean);
      cell.replaceChildren(button((done.length && words) || T("fill in"), () => openThings([thing]), { "aria-label": T("fill in {name}", { name: thing.n }) }), old ? make("span", { class: "old" }, T("done to the old size {size}", { size: S(old) })) : "");
    }
  }
  for (const { mark, cell } of markRows) {
    const all = piecesOf(mark), sawn = count(all, "sawn"), stale = all.filter((t) => oldSize(t.i, "sawn")).length;
    cell.replaceChildren(button((sawn === all.length ? "✓ " : "") + T("{sawn} of {count} sawn", { sawn, count: all.length }), () => openMark(mark), { "aria-pressed": String(sawn === all.length) }), stale ? make("span", { class: "old" }, T("{count} cut to the old size", { count: stale })) : "");
  }
}
