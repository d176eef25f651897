// Ticks are events that are only ever added. What several phones have is the union; the latest is shown, all are kept.
const $ = (id) => document.getElementById(id);
const D = JSON.parse($("data").textContent);
// What is said: in the page's language, where it has words of it; fields stand in braces.
const T = (text, fields = {}) => (Object.hasOwn(D.w || {}, text) ? D.w[text] : text).replace(/\{(\w+)\}/g, (_, name) => fields[name]);
// A size in words; ticks hold it in English, whatever the page speaks.
const S = (size) => T(size).replaceAll("under 1", T("under 1")).replaceAll(", less ", ", " + T("less") + " ");
const KEY = JSON.stringify([D.schema, D.issue.title, D.issue.number, D.issue.revision, D.issue.digest, D.version]);
const keyOf = (head) => head.dataset.k || head.textContent; // a column by its English head
const THINGS = new Map();
const ROWS = [...document.querySelectorAll("tr.t")];
D.things.forEach((t, n) => {
  const row = ROWS[n];
  const heads = [...row.closest("table").querySelectorAll("thead th")];
  const f = heads.slice(1, -1).map((head, k) => [head.textContent, row.cells[k + 1].textContent, keyOf(head)]); // names and figures stand in the tables only
  THINGS.set(t.i, { ...t, n: row.cells[0].textContent, t: D.fields[t.t], f, row });
});
for (const [key, text] of Object.entries(D.pieces)) {
  for (const group of text.split(";")) {
    const [head, rows] = group.split(":");
    const [mark, w, h, bay] = head.split(" ");
    for (const row of rows.split(",")) {
      const [place, x, y] = row.split(" ");
      const id = key + ":" + bay + "." + place;
      THINGS.set(id, { i: id, k: "piece", r: D.frames[key].r, n: mark, z: D.marks[mark][0], f: [], t: D.fields[0], a: [[key, +x, +y, +x + +w, +y + +h]] });
    }
  }
}
let events = new Map();
let clock = 0;
let kept = false;
let latest = new Map(); // id, field: the latest event of today's size
let older = new Map(); // id, field: the latest event of another size, where there is none of today's
let sums = new Map();
const watchers = [];

const told = (e) => JSON.stringify([e.id, e.field, e.value, e.size, e.n, e.by, e.at]);
const slot = (id, field) => JSON.stringify([id, field]);
const after = (a, b) => {
  const one = [a.n, a.by, String(a.value)], two = [b.n, b.by, String(b.value)];
  for (let k = 0; k < 3; k++) if (one[k] !== two[k]) return one[k] > two[k];
  return false;
};

// An event as it may come from anywhere: only values of the right kind and size get through, all else is left out.
function sound(e) {
  if (e === null || typeof e !== "object") return null;
  const word = (w, most = D.bounds.letters) => typeof w === "string" && w.length <= most;
  if (![e.field, e.by, e.at].every((w) => word(w)) || ![e.id, e.size].every((w) => word(w, D.bounds.id)) || !e.id || !e.field || !e.by) return null;
  if (!Number.isInteger(e.n) || e.n < 1 || e.n > D.bounds.number) return null;
  const v = e.value;
  const good = typeof v === "boolean" || word(v) || (typeof v === "number" && Number.isFinite(v) && Math.abs(v) <= D.bounds.number);
  return good ? { id: e.id, field: e.field, value: v, size: e.size, n: e.n, by: e.by, at: e.at } : null;
}

function settle() {
  latest = new Map(); older = new Map(); sums = new Map();
  for (const e of events.values()) {
    const key = slot(e.id, e.field);
    const thing = THINGS.get(e.id);
    const here = thing && thing.z === e.size ? latest : older;
    const now = here.get(key);
    if (!now || after(e, now)) here.set(key, e);
    if (typeof e.value === "number") sums.set(key, (sums.get(key) || 0) + e.value);
    clock = Math.max(clock, e.n);
  }
  for (const key of latest.keys()) older.delete(key);
}

function save() {
  try {
    const text = JSON.stringify([...events.values()]);
    localStorage.setItem(KEY, text);
    kept = localStorage.getItem(KEY) === text;
  } catch { kept = false; }
}

function load() {
  try {
    for (const e of JSON.parse(localStorage.getItem(KEY) || "[]")) { const good = sound(e); if (good) events.set(told(good), good); }
    localStorage.setItem("gaugerod/tried", "1");
    kept = true;
  } catch { kept = false; }
  settle();
}

// Another page of the same plan on this phone may have written meanwhile: nothing of it is lost.
window.addEventListener("storage", (change) => { if (change.key === KEY) { load(); changed(); } });

const phone = (() => {
  let own = { name: "", tag: "" };
  try { own = JSON.parse(localStorage.getItem("gaugerod/phone")) || own; } catch { /* a new phone */ }
  if (!own.tag) own.tag = Math.random().toString(36).slice(2, 6);
  return own;
})();
function callPhone(name) {
  phone.name = name.slice(0, 40);
  try { localStorage.setItem("gaugerod/phone", JSON.stringify(phone)); } catch { /* told as not kept */ }
}
callPhone(phone.name || "");
const by = () => (phone.name || "phone") + "-" + phone.tag;

function changed() { settle(); for (const each of watchers) each(); }

function tick(changes) {
  const here = new Date(); // the site's own clock, as programmes have it
  const at = new Date(here - here.getTimezoneOffset() * 60000).toISOString().slice(0, 16);
  for (const [id, field, value] of changes) {
    const e = sound({ id, field, value, size: THINGS.get(id).z, n: ++clock, by: by(), at });
    if (e) events.set(told(e), e);
  }
  save();
  changed();
}

const value = (id, field) => { const e = latest.get(slot(id, field)); return e ? e.value : undefined; };
const oldSize = (id, field) => { const e = older.get(slot(id, field)); return e && e.value !== false && e.value !== "" ? e.size : ""; };
const isDone = (thing, field) => (field[2] === "sum" ? (sums.get(slot(thing.i, field[0])) || 0) > 0 : ![undefined, false, ""].includes(value(thing.i, field[0])));

// What a file says becomes events; told in words is what was taken and what was not. Nothing else of it is used.
const NO_TICKS = T("This is no file of ticks: nothing was taken.");
function merge(file, sure) {
  const issue = file && typeof file.issue === "object" && file.issue ? file.issue : {};
  if (!file || file.schema !== D.schema || !Array.isArray(file.events)) return NO_TICKS;
  if (file.events.length > D.bounds.events) return T("More than {most} ticks: nothing was taken.", { most: D.bounds.events });
  const other = issue.title !== D.issue.title || issue.number !== D.issue.number;
  const earlier = !other && issue.digest !== D.issue.digest;
  if (other && !sure(T("These ticks are of another plan: {number} {title}. Take those whose piece and size are the same here?", { number: String(issue.number).slice(0, 40), title: String(issue.title).slice(0, 80) }))) return T("Ticks of another plan: nothing was taken.");
  let fresh = 0, known = 0, bad = 0, unlike = 0, gone = 0;
  for (const each of file.events) {
    const e = sound(each);
    if (!e) { bad++; continue; }
    const thing = THINGS.get(e.id);
    if (!thing) gone++;
    else if (thing.z !== e.size) unlike++;
    if (other && (!thing || thing.z !== e.size)) continue;
    if (events.has(told(e))) known++; else { events.set(told(e), e); fresh++; }
  }
  save();
  changed();
  const words = other ? [T("Another plan.")] : earlier ? [T("Another issue of this plan.")] : [];
  words.push(T("{fresh} new ticks, {known} known already.", { fresh, known }));
  if (unlike) words.push(other ? T("{count} of another size, not taken.", { count: unlike }) : T("{count} of another size: told at the piece, not counted.", { count: unlike }));
  if (gone) words.push(other ? T("{count} of things not here, not taken.", { count: gone }) : T("{count} of things that are not in this issue: kept, not shown.", { count: gone }));
  if (bad) words.push(T("{count} not understood, left out.", { count: bad }));
  return words.join(" ");
}

// Stages as a programme takes them: begun and done when the ticks say so.
function stagesDone() {
  const rows = [];
  for (const t of D.things) {
    const [, room, stage, area] = t.i.match(/^(\d+)\/stage\/(.+)\/(\d+)$/) || [];
    const [begun, done] = ["begun", "done"].map((field) => latest.get(slot(t.i, field))).map((e) => (e && e.value === true ? e.at : ""));
    if (stage && (begun || done)) rows.push({ room: D.rooms[room], stage, area: +area, start: begun || done, ...(done ? { end: done } : {}) });
  }
  return rows;
}
const asFile = () => ({ schema: D.schema, issue: D.issue, tool: D.version, done: stagesDone(), events: [...events.values()].sort((a, b) => (after(a, b) ? 1 : -1)) });
const COLUMNS = ["id", "field", "value", "size", "n", "by", "at"];
const quoted = (v) => { const s = typeof v === "string" && /^[=+\-@\t\r']/.test(v) ? "'" + v : String(v); return /[",\r\n]/.test(s) ? '"' + s.replaceAll('"', '""') + '"' : s; };
function asCsv() {
  const file = asFile();
  const head = [D.schema, D.issue.title, D.issue.number, D.issue.revision, D.issue.digest, D.version];
  const kinds = (e) => COLUMNS.map((c) => (c === "value" ? (typeof e.value === "string" ? "text:" + e.value : e.value) : e[c]));
  return [head, COLUMNS, ...file.events.map(kinds)].map((row) => row.map(quoted).join(",")).join("\r\n") + "\r\n";
}
function rowsOf(text) {
  const rows = [[]];
  for (const [, cell, plain, end] of text.matchAll(/(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n|\n|$)/g)) {
    const raw = cell !== undefined ? cell.replaceAll('""', '"') : plain;
    rows[rows.length - 1].push(raw.startsWith("'") ? raw.slice(1) : raw);
    if (end === "") break;
    if (end !== ",") rows.push([]);
  }
  return rows.filter((row) => row.length > 1);
}
function fromCsv(text) {
  const [head, , ...rows] = rowsOf(text);
  if (!head) return null;
  const typed = (v) => (v === "true" ? true : v === "false" ? false : v.startsWith("text:") ? v.slice(5) : Number(v));
  const made = rows.map((r) => ({ id: r[0], field: r[1], value: typed(r[2] || ""), size: r[3], n: Number(r[4]), by: r[5], at: r[6] || "" }));
  return { schema: head[0], issue: { title: head[1], number: head[2], revision: head[3], digest: head[4] }, events: made };
}
function read(text) {
  try { return JSON.parse(text); } catch { return fromCsv(text); }
}

// Ticks of other issues of this plan that lie on this phone.
function otherIssues() {
  const found = [];
  try {
    for (let k = 0; k < localStorage.length; k++) {
      const name = localStorage.key(k);
      if (name === KEY || !name.startsWith('["' + D.schema)) continue;
      const [, title, number, revision, digest] = JSON.parse(name);
      if (title === D.issue.title && number === D.issue.number) found.push({ name, issue: { title, number, revision, digest } });
    }
  } catch { /* none that can be read */ }
  return found;
}
load();
