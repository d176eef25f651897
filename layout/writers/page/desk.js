// Tabs, search, layers, progress, and the way of ticks in and out.
const TABS = [["drawings", T("Drawing")], ["cuts", T("Cuts")], ["membrane", T("Tape")], ["joints", T("Joints")], ["checks", T("Checks")], ["orders", T("Orders")], ["progress", T("Done")]];
const memory = { get: (k) => { try { return localStorage.getItem("gaugerod/" + k); } catch { return null; } }, set: (k, v) => { try { localStorage.setItem("gaugerod/" + k, v); } catch { /* not kept */ } } };
let tab = "";
function openTab(name) {
  if (tab === name) return;
  tab = name;
  for (const [key] of TABS) $(key).classList.toggle("now", key === name);
  for (const each of $("tabs").children) each.setAttribute("aria-current", String(each.dataset.tab === name));
  const drawingTab = name === "drawings";
  html.classList.toggle("lists", !drawingTab);
  $("bar").hidden = $("zoom").hidden = $("layers").hidden = !drawingTab;
  if (!drawingTab) { fillRows(); if (name === "progress") desk(); window.scrollTo(0, 0); }
}
for (const [key, words] of TABS) $("tabs").append(button(words, () => { closePanel(); openTab(key); }, { "data-tab": key }));

D.sheets.forEach((sheet, k) => {
  const room = D.rooms.length > 1 && sheet.r >= 0 ? D.rooms[sheet.r] + ": " : "";
  $("which").append(make("option", { value: String(k) }, room + sheet.t + (/\d$/.test(sheet.k) ? " " + sheet.k.match(/\d+$/)[0] : "")));
});
$("which").onchange = () => { closePanel(); show(Number($("which").value)); };

const KINDS = { wall: T("as measured"), hold: T("hold point") };
// Search: a mark, a wall or other surface, a run, anything by its name.
function found(text) {
  const words = text.trim().toLowerCase();
  const result = [];
  if (!words) return result;
  for (const mark of Object.keys(D.marks)) if (mark.toLowerCase().startsWith(words)) result.push([mark + " · " + S(D.marks[mark][0]), () => openMark(mark), mark.length]);
  for (const [key, frame] of Object.entries(D.frames)) {
    if (frame.on.length && frame.n.toLowerCase().includes(words)) result.push([T("{where}: show", { where: (D.rooms.length > 1 ? D.rooms[frame.r] + ", " : "") + frame.n }), () => toSurface(key), frame.n.toLowerCase() === words ? 0 : 50]);
  }
  for (const t of THINGS.values()) {
    if (t.k === "piece") continue;
    const exact = t.n.toLowerCase() === words;
    const text2 = (t.n + " " + t.f.filter(([, , k]) => k === "where" || k === "at" || k === "test").map(([, v]) => v).join(" ")).toLowerCase();
    if (exact || t.n.toLowerCase().startsWith(words) || text2.includes(words)) result.push([t.n + " · " + (KINDS[t.k] || t.f.map(([, v]) => v).filter(Boolean).slice(0, 2).join(", ")), () => { openThings([t]); locate([t.i]); }, exact ? 1 : 60 + t.n.length]);
  }
  return result.sort((a, b) => a[2] - b[2]).slice(0, 30);
}
function toSurface(key) {
  const frame = D.frames[key];
  const on = frame.on.filter((each) => shows(frame, each));
  const m = on.find((each) => each[0] === now) || on.find((each) => D.sheets[each[0]].k.startsWith("elevations")) || on[0];
  if (!m) return;
  closePanel();
  openTab("drawings");
  show(m[0]);
  const b = frameBox(frame, m);
  fit(b[0] - 120, b[1] - 120, b[2] - b[0] + 240, b[3] - b[1] + 240);
}
$("find").onclick = () => {
  const list = make("div", { class: "list" });
  const input = make("input", { type: "search", id: "words", autocomplete: "off", autocapitalize: "off", placeholder: T("C7, wall 3, R14 …") });
  input.oninput = () => {
    const all = found(input.value);
    list.replaceChildren(...all.map(([words, act]) => button(words, act)));
    if (input.value.trim() && !all.length) list.replaceChildren(make("p", {}, T("nothing of that name here")));
  };
  opened = null;
  fill(T("Search"), null, inRow(make("label", { for: "words" }, T("mark, wall, run")), input), list);
  input.focus();
};

const off = new Set((memory.get("off") || "").split(" ").filter(Boolean));
function setLayers() { for (const [key] of D.trades) html.classList.toggle("no-" + key, off.has(key)); memory.set("off", [...off].join(" ")); }
function openLayers() {
  const switches = D.trades.map(([key, words]) => button((off.has(key) ? "○ " : "● ") + words, () => { if (!off.delete(key)) off.add(key); setLayers(); openLayers(); }, { "aria-pressed": String(!off.has(key)) }));
  const dark = html.classList.contains("dark");
  opened = null;
  fill(T("Layers"), null, inRow(...switches), inRow(button(dark ? T("light page") : T("dark page"), () => { setDark(!dark); openLayers(); })));
}
$("layers").onclick = openLayers;
function setDark(dark) { html.classList.toggle("dark", dark); memory.set("dark", dark ? "1" : "0"); }

// Progress per stage and room: how many of each kind, in words and as a bar.
const STEPS = [["piece", "sawn", T("cuts sawn")], ["run", "taped", T("tape runs")], ["corner", "set", T("corner pieces")], ["collar", "set", T("collars")], ["drain", "dressed", T("flanges dressed")], ["stage", "done", T("stages done")], ["test", null, T("tests read")], ["hold", "signed", T("hold points signed")], ["piece", "laid", T("cuts laid")], ["joint", "sealed", T("joints sealed")], ["wall", "length", T("walls measured")]];
function progress(room) {
  return STEPS.map(([kind, field, words]) => {
    const all = [...THINGS.values()].filter((t) => t.k === kind && t.r === room);
    const done = all.filter((t) => (field ? isDone(t, t.t.find((f) => f[0] === field)) : t.t.every((f) => isDone(t, f))));
    return [words, done.length, all.length];
  }).filter(([, , all]) => all);
}
function save_as(name, text, kind) {
  const url = URL.createObjectURL(new Blob([text], { type: kind }));
  const link = make("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}
function stem() { return [D.issue.number || D.issue.title, D.issue.revision, "ticks", phone.name].filter(Boolean).join("-").replace(/[^\p{L}\p{N}-]+/gu, "-"); }
async function take(files) {
  for (const file of files) {
    if (file.size > D.bounds.bytes) { say(T("The file is over {most} MB: nothing was taken.", { most: D.bounds.bytes / 1e6 })); continue; }
    let told = NO_TICKS;
    try { told = merge(read(await file.text()), (words) => confirm(words)); } catch { /* told as no file of ticks */ }
    say(told);
    desk();
    $("came").textContent = told;
  }
}
function desk() {
  const bars = D.rooms.flatMap((name, r) => [make("h3", {}, name), ...progress(r).map(([words, done, all]) => {
    const fillBar = make("i");
    fillBar.style.width = (100 * done) / all + "%";
    return make("div", {}, make("p", {}, T("{what}: {done} of {all}", { what: words, done, all })), make("div", { class: "bar", role: "img", "aria-label": T("{what}, {done} of {all}", { what: words, done, all }) }, fillBar));
  })]);
  const file = make("input", { type: "file", id: "file", accept: ".json,.csv", multiple: true, onchange: () => take([...file.files]) });
  const name = make("input", { type: "text", id: "phone", maxlength: 40, autocomplete: "off" });
  name.value = phone.name;
  name.onchange = () => { callPhone(name.value.trim()); say(T("This phone is {name}.", { name: by() })); };
  const ways = inRow(button(T("Export JSON"), () => save_as(stem() + ".json", JSON.stringify(asFile()), "application/json"), { class: "go" }), button(T("Export CSV"), () => save_as(stem() + ".csv", asCsv(), "text/csv")),
    button(T("Copy"), () => { const text = JSON.stringify(asFile()); Promise.resolve(navigator.clipboard ? navigator.clipboard.writeText(text) : Promise.reject()).then(() => say(T("Ticks are copied: paste them into a message.")), () => say(T("Copying is not allowed here: export the file."))); }));
  const others = otherIssues().map(({ name: key, issue }) => button(T("Take over the ticks of issue {issue} on this phone", { issue: issue.revision || "?" }), () => { say(merge({ schema: D.schema, issue, events: JSON.parse(localStorage.getItem(key)) }, () => false)); desk(); }));
  $("desk").replaceChildren(
    make("p", { class: kept ? "told" : "old", id: "kept" }, kept ? T("{count} ticks, kept on this phone for this issue. Export them at the end of each day: a phone may be lost, or tidy up by itself.", { count: events.size }) : T("Ticks are NOT kept on this phone: export them before you close the page.")),
    ...bars, make("h3", {}, T("Ticks in and out")),
    inRow(make("label", { for: "phone" }, T("name of this phone"), name)), ways,
    inRow(make("label", { for: "file" }, T("Import and merge"), file)), make("p", { id: "came", class: "told" }), ...others.map((b) => inRow(b)),
    make("p", { class: "told" }, [D.issue.number, D.issue.title, D.issue.revision ? T("issue {revision}", { revision: D.issue.revision }) : "", "gaugerod " + D.version, D.issue.digest].filter(Boolean).join(" · ")));
}
watchers.push(() => { if (tab === "progress") desk(); else if (tab !== "drawings") fillRows(); if (opened && !panel.hidden) { const at = panel.scrollTop, was = document.activeElement?.dataset?.field; opened(); panel.scrollTop = at; if (was) panel.querySelector('[data-field="' + was + '"]')?.focus(); } else paint(); });

const dark = memory.get("dark");
setDark(dark ? dark === "1" : matchMedia("(prefers-color-scheme: dark)").matches);
setLayers();
$("tabs").hidden = $("progress").hidden = false;
stage.tabIndex = 0;
stage.setAttribute("role", "application");
stage.setAttribute("aria-label", T("drawing: arrows move it, plus and minus zoom, 0 shows all of it, Enter tells what is in the middle"));
openTab("drawings");
show(Math.max(D.sheets.findIndex((s) => s.k.startsWith("cuts")), 0));
