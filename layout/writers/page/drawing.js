// The drawing: one sheet at a time, panned and zoomed by its view box; what was tapped is found in the data, not in the picture.
const SVG = "http://www.w3.org/2000/svg";
const html = document.documentElement;
const stage = $("stage"), panel = $("panel");
const figures = [...stage.querySelectorAll("figure")];
const pictures = figures.map((f) => f.querySelector("svg"));
const boxes = D.sheets.map((s) => [...s.w]);
const fingers = new Map();
let now = 0, chosen = [], drawing = 0;
const TAP = 24; // px round a finger within which the nearest thing is meant
const FIRST = { cuts: ["piece"], "setting-out": ["wall", "piece"], tape: ["run", "corner", "test", "collar", "drain"], unfolded: ["run", "collar"], joints: ["joint", "drain"], elevations: ["piece"] };
const MARKED = { piece: ["sawn", "laid"], run: ["taped"], corner: ["set"], collar: ["set"], drain: ["dressed"], joint: ["sealed"] };

const scale = () => stage.clientWidth / boxes[now][2] || 1;
// While fingers move, what is drawn already is shifted and scaled as a picture; it is drawn afresh when they lift, or have gone far.
let settled = null;
function draw() {
  if (drawing) return;
  drawing = requestAnimationFrame(() => {
    drawing = 0;
    const box = boxes[now], picture = pictures[now];
    if (fingers.size && settled && settled.sheet === now) {
      const k = settled.box[2] / box[2], s = scale();
      const [dx, dy] = [(settled.box[0] - box[0]) * s, (settled.box[1] - box[1]) * s];
      if (k < 3 && k > 0.4 && Math.abs(dx) < stage.clientWidth && Math.abs(dy) < stage.clientHeight) {
        picture.style.transform = `translate(${dx}px,${dy}px) scale(${k})`;
        return;
      }
    }
    picture.style.transform = "";
    picture.setAttribute("viewBox", box.map((v) => v.toFixed(1)).join(" "));
    picture.classList.toggle("far", scale() < 0.16); // 2.5 mm capitals are under 4 px
    settled = { sheet: now, box: [...box] };
  });
}
// A box in the middle of what the panel leaves of the stage, with some room round it.
function fit(x, y, w, h, margin = 1.05) {
  const wide = stage.clientWidth, high = stage.clientHeight, over = panel.hidden ? null : panel.getBoundingClientRect();
  const below = over && over.left < 9, seenWide = over && !below ? over.left : wide, seenHigh = below ? over.top - stage.getBoundingClientRect().top : high;
  const k = Math.min(seenWide / Math.max(w * margin, 200), seenHigh / Math.max(h * margin, 200)) || 1;
  boxes[now] = [x + w / 2 - seenWide / 2 / k, y + h / 2 - seenHigh / 2 / k, wide / k, high / k];
  draw();
}
// The part of the window that is drawn on: where its surfaces stand.
function used(k) {
  let box = null;
  for (const frame of Object.values(D.frames)) for (const m of frame.on) if (m[0] === k && shows(frame, m)) box = joined(box, frameBox(frame, m));
  return box ? [box[0] - 160, box[1] - 160, box[2] - box[0] + 320, box[3] - box[1] + 320] : D.sheets[k].w;
}
const joined = (a, b) => (a ? [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[2], b[2]), Math.max(a[3], b[3])] : b);
const out = (m, x, y) => [m[1] * x + m[3] * y + m[5], m[2] * x + m[4] * y + m[6]];
// A sheet that shows a surface in part has its window behind the matrix: x0, y0, x1, y1.
const windowOf = (m) => (m.length > 7 ? m.slice(7) : [-Infinity, -Infinity, Infinity, Infinity]);
function boxIn(m, a, b) {
  const w = windowOf(m);
  return [Math.max(Math.min(a[0], b[0]), w[0]), Math.max(Math.min(a[1], b[1]), w[1]), Math.min(Math.max(a[0], b[0]), w[2]), Math.min(Math.max(a[1], b[1]), w[3])];
}
const frameBox = (frame, m) => boxIn(m, out(m, frame.b[0], frame.b[1]), out(m, frame.b[2], frame.b[3]));
const isBox = (b) => b[0] <= b[2] && b[1] <= b[3];
const shows = (frame, m) => isBox(frameBox(frame, m));
// What is seen of a place through its window: lines are cut at its edges.
function cutTo(m, points, solid) {
  if (m.length === 7) return [points];
  if (solid || points.length === 1) {
    const b = boxIn(m, points[0], points[points.length - 1]);
    return !isBox(b) ? [] : solid ? [[[b[0], b[1]], [b[2], b[3]]]] : [points];
  }
  const w = windowOf(m), lines = [];
  for (let k = 1; k < points.length; k++) {
    const p = points[k - 1], q = points[k];
    let from = 0, to = 1;
    for (const i of [0, 1]) {
      const d = q[i] - p[i], ends = [(w[i] - p[i]) / d, (w[i + 2] - p[i]) / d];
      if (d) [from, to] = [Math.max(from, Math.min(...ends)), Math.min(to, Math.max(...ends))];
      else if (p[i] < w[i] || p[i] > w[i + 2]) to = -1;
    }
    if (from >= to) continue;
    const at = (t) => [p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])], last = lines[lines.length - 1];
    if (last && !from) last.push(at(to)); else lines.push([at(from), at(to)]);
  }
  return lines;
}
const whole = () => fit(...used(now));
function openWords() {
  opened = null;
  const words = figures[now].querySelector(".said");
  fill(D.sheets[now].t, null, words ? words.cloneNode(true) : null, make("h3", {}, T("Key")), document.querySelector(".key").cloneNode(true));
}
function zoom(by, cx, cy) {
  const [x, y, w, h] = boxes[now];
  const wide = Math.min(Math.max(w / by, 150), D.sheets[now].p[0] * 2.5);
  const k = wide / w;
  boxes[now] = [cx - (cx - x) * k, cy - (cy - y) * k, wide, h * k];
  draw();
}
function pan(dx, dy) {
  const box = boxes[now], [w, h] = D.sheets[now].p;
  box[0] = Math.min(Math.max(box[0] + dx, -box[2] / 2), w - box[2] / 2);
  box[1] = Math.min(Math.max(box[1] + dy, -box[3] / 2), h - box[3] / 2);
  draw();
}
const centre = () => [boxes[now][0] + boxes[now][2] / 2, boxes[now][1] + boxes[now][3] / 2];
function onSheet(event) {
  const r = stage.getBoundingClientRect();
  return [boxes[now][0] + (event.clientX - r.left) / scale(), boxes[now][1] + (event.clientY - r.top) / scale()];
}
const seen = new Set();
function show(k) {
  now = k;
  figures.forEach((f, n) => f.classList.toggle("now", n === k));
  $("which").value = String(k);
  if (!seen.has(k)) { seen.add(k); whole(); } else draw();
  paint();
}

// Things by sheet, with their lines in the sheet's units.
const bySheet = D.sheets.map(() => []);
for (const thing of THINGS.values()) {
  for (const [key, ...v] of thing.a) {
    for (const m of D.frames[key].on) {
      const points = [];
      for (let k = 0; k < v.length; k += 2) points.push(out(m, v[k], v[k + 1]));
      const solid = (thing.k === "piece" || thing.k === "drain") && points.length === 2;
      for (const own of cutTo(m, points, solid)) bySheet[m[0]].push({ thing, key, points: own, solid });
    }
  }
}
function distance(place, x, y) {
  const p = place.points;
  if (place.solid || p.length === 1) {
    const q = p[p.length - 1];
    const dx = Math.max(Math.min(p[0][0], q[0]) - x, 0, x - Math.max(p[0][0], q[0]));
    const dy = Math.max(Math.min(p[0][1], q[1]) - y, 0, y - Math.max(p[0][1], q[1]));
    return Math.hypot(dx, dy);
  }
  let best = Infinity;
  for (let k = 1; k < p.length; k++) {
    const [ax, ay] = p[k - 1], dx = p[k][0] - ax, dy = p[k][1] - ay;
    const t = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
    best = Math.min(best, Math.hypot(x - ax - t * dx, y - ay - t * dy));
  }
  return best;
}
// What lies within a finger of a place: what this sheet is for first, then the nearest.
function hits(x, y) {
  const reach = Math.max(TAP / scale(), 30), kind = D.sheets[now].k;
  const first = FIRST[Object.keys(FIRST).find((name) => kind.startsWith(name))] || [];
  const found = [];
  for (const place of bySheet[now]) {
    const far = distance(place, x, y);
    if (far > reach) continue;
    const rank = first.includes(place.thing.k) ? 0 : 1;
    found.push({ ...place, far, rank });
  }
  return found.sort((a, b) => a.rank - b.rank || a.far - b.far);
}

function line(points, closed) { return points.map((p, k) => (k ? "L" : "M") + p[0].toFixed(0) + " " + p[1].toFixed(0)).join("") + (closed ? "z" : ""); }
function around(place, grow = 0) {
  const p = place.points;
  if (!place.solid && p.length > 1) return line(p);
  const q = p[p.length - 1], g = p.length === 1 ? 26 : grow;
  const [x0, x1, y0, y1] = [Math.min(p[0][0], q[0]) - g, Math.max(p[0][0], q[0]) + g, Math.min(p[0][1], q[1]) - g, Math.max(p[0][1], q[1]) + g];
  return line([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], true);
}
// One stroke through what is sawn, a cross through what is laid, a thick line along what is taped, a box round what is set.
function strokes() {
  const parts = [];
  for (const place of bySheet[now]) {
    const { thing, points: p } = place;
    const fields = MARKED[thing.k];
    if (!fields) continue;
    if (thing.k === "piece") {
      if (p.length < 2) continue;
      const laid = value(thing.i, "laid");
      if (laid || value(thing.i, "sawn")) parts.push(line([p[0], p[1]]));
      if (laid) parts.push(line([[p[0][0], p[1][1]], [p[1][0], p[0][1]]]));
    } else if (value(thing.i, fields[0])) parts.push(around(place));
  }
  return parts.join("");
}
function paint() {
  const svg = pictures[now];
  let over = svg.querySelector(".over");
  if (!over) {
    over = document.createElementNS(SVG, "g");
    over.setAttribute("class", "over");
    for (const name of ["done", "hi", "hi2"]) { const path = document.createElementNS(SVG, "path"); path.setAttribute("class", name); over.append(path); }
    svg.append(over);
  }
  const [done, hi, hi2] = over.children;
  done.setAttribute("d", strokes());
  const ids = new Set(chosen);
  const lit = bySheet[now].filter((place) => ids.has(place.thing.i)).map((place) => around(place, 6)).join("");
  hi.setAttribute("d", lit);
  hi2.setAttribute("d", lit);
}
// Show things on a drawing: on this one if they stand here, else on the first that has them, its own kind of sheet before others.
function locate(ids) {
  chosen = ids;
  const wanted = new Set(ids);
  const here = (k) => bySheet[k].some((place) => wanted.has(place.thing.i));
  const kind = THINGS.get(ids[0]).k;
  const good = (k) => (kind !== "piece" || D.sheets[k].k !== "setting-out") && (FIRST[Object.keys(FIRST).find((name) => D.sheets[k].k.startsWith(name))] || []).includes(kind);
  const all = D.sheets.map((_, k) => k).filter(here);
  if (!all.length) return false;
  openTab("drawings");
  show(all.includes(now) && good(now) ? now : all.find(good) ?? all[0]);
  let box = null;
  for (const place of bySheet[now]) if (wanted.has(place.thing.i)) for (const p of place.points) box = joined(box, [...p, ...p]);
  fit(box[0] - 150, box[1] - 150, box[2] - box[0] + 300, box[3] - box[1] + 300, 1.2);
  return true;
}

let moved = 0, downAt = 0, lastTap = 0;
stage.addEventListener("pointerdown", (e) => {
  stage.setPointerCapture(e.pointerId);
  fingers.set(e.pointerId, [e.clientX, e.clientY]);
  if (fingers.size === 1) { moved = 0; downAt = e.timeStamp; } else moved = 99;
});
stage.addEventListener("pointermove", (e) => {
  const was = fingers.get(e.pointerId);
  if (!was) return;
  const here = [e.clientX, e.clientY];
  if (fingers.size === 1) {
    moved += Math.hypot(here[0] - was[0], here[1] - was[1]);
    if (moved > 8) pan((was[0] - here[0]) / scale(), (was[1] - here[1]) / scale());
  } else if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== e.pointerId)[1];
    const before = Math.hypot(was[0] - other[0], was[1] - other[1]), nowApart = Math.hypot(here[0] - other[0], here[1] - other[1]);
    const middle = onSheet({ clientX: (here[0] + other[0]) / 2, clientY: (here[1] + other[1]) / 2 });
    if (before > 0) zoom(nowApart / before, ...middle);
    pan((was[0] - here[0]) / 2 / scale(), (was[1] - here[1]) / 2 / scale());
  }
  fingers.set(e.pointerId, here);
});
const up = (e) => {
  const single = fingers.size === 1 && fingers.delete(e.pointerId);
  fingers.delete(e.pointerId);
  draw();
  if (e.type === "pointerup" && single && moved <= 8 && e.timeStamp - downAt < 800) tapped(e);
};
stage.addEventListener("pointerup", up);
stage.addEventListener("pointercancel", up);
// The panel may open under the finger: the click that a touch makes afterwards must not press what is there now.
stage.addEventListener("touchend", (e) => { if (e.cancelable) e.preventDefault(); }, { passive: false });
function tapped(e) {
  const [x, y] = onSheet(e);
  if (e.timeStamp - lastTap < 300) { zoom(2.2, x, y); lastTap = 0; return; }
  lastTap = e.timeStamp;
  const found = hits(x, y);
  if (!found.length) return closePanel();
  openThings(found.map((hit) => hit.thing));
  const edge = panel.getBoundingClientRect(); // what was tapped stays in sight
  if (e.clientX > edge.left && e.clientY > edge.top - 40) pan(0, (e.clientY - edge.top + 80) / scale());
}
stage.addEventListener("wheel", (e) => { e.preventDefault(); zoom(Math.exp(-e.deltaY / 400), ...onSheet(e)); }, { passive: false });
stage.addEventListener("keydown", (e) => {
  const step = boxes[now][2] / 8;
  const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
  if (moves[e.key]) pan(...moves[e.key]);
  else if (e.key === "+" || e.key === "=") zoom(1.4, ...centre());
  else if (e.key === "-") zoom(1 / 1.4, ...centre());
  else if (e.key === "0") whole();
  else if (e.key === "Enter") { const found = hits(...centre()); if (found.length) openThings(found.map((hit) => hit.thing)); }
  else return;
  e.preventDefault();
});
$("closer").onclick = () => zoom(1.6, ...centre());
$("farther").onclick = () => zoom(1 / 1.6, ...centre());
$("all").onclick = whole;
$("sheetall").onclick = openWords;
window.addEventListener("beforeprint", () => pictures.forEach((svg, k) => svg.setAttribute("viewBox", [0, 0, ...D.sheets[k].p].join(" "))));
window.addEventListener("afterprint", draw);
window.addEventListener("resize", () => { const [x, y, w] = boxes[now]; boxes[now] = [x, y, w, (w * stage.clientHeight) / stage.clientWidth]; seen.clear(); seen.add(now); draw(); });
