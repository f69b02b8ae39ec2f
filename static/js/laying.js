// Laying a top by hand: drag, turn, nudge; every figure comes from the server. The fields hold
// where things lie, in the person's units; the drawing follows the fields.

import { View } from "./laying_view.js";

const root = document.querySelector("[data-laying]");
const board = root.querySelector(".laying-board");
const places = document.getElementById("places");
const figures = document.getElementById("figures");
const per = Number(root.dataset.per);
const STEP_MM = per === 1 ? 5 : 25.4 / 4;
const FAR = 10;
const WAIT_MS = 140;

const field = (at, name) => places.elements[`m${at}-${name}`];
const number = (at, name) => Number(field(at, name).value.trim().replace(",", ".") || NaN);
const read = (at, name) => number(at, name) || 0;
const isRead = (at) => ["x", "y", "turn"].every((name) => Number.isFinite(number(at, name)));

function hand(at) {
  const flip = field(at, "flip");
  return { x: read(at, "x") * per, y: read(at, "y") * per, turn: read(at, "turn"), flip: Boolean(flip?.checked) };
}

function write(at, { x, y, turn }) {
  const places = per === 1 ? 1 : 3;
  field(at, "x").value = (x / per).toFixed(places);
  field(at, "y").value = (y / per).toFixed(places);
  field(at, "turn").value = (((turn + 540) % 360) - 180).toFixed(2);
  draw(at);
  ask();
}

// The server's own steps: see Placed.matrix and laid_drawing.svg_matrix.
function matrix(mover, { x, y, turn, flip }) {
  if (mover.dataset.kind === "top") return `translate(${x} ${-y}) rotate(${-turn})`;
  const angle = (turn * Math.PI) / 180;
  const sense = flip ? -1 : 1;
  const [a, b, d, e] = [Math.cos(angle), -Math.sin(angle) * sense, Math.sin(angle), Math.cos(angle) * sense];
  return `matrix(${a} ${-d} ${-b} ${e} ${x} ${-y})`;
}

const mover = (at) => board.querySelector(`[data-mover="${at}"]`);
const draw = (at) => mover(at).setAttribute("transform", matrix(mover(at), hand(at)));

// A slab turns about its own middle, a top about its centre, which is where it lies.
function turned(at, by) {
  const now = hand(at);
  const one = mover(at);
  const next = { ...now, turn: now.turn + by };
  if (one.dataset.kind === "top") return next;
  const middle = { x: Number(one.dataset.cx), y: -Number(one.dataset.cy) * (now.flip ? -1 : 1) };
  const spun = (deg) => {
    const angle = (deg * Math.PI) / 180;
    return { x: middle.x * Math.cos(angle) - middle.y * Math.sin(angle), y: middle.x * Math.sin(angle) + middle.y * Math.cos(angle) };
  };
  const [before, after] = [spun(now.turn), spun(next.turn)];
  return { ...next, x: now.x + before.x - after.x, y: now.y + before.y - after.y };
}

function move(at, along, across) {
  const now = hand(at);
  write(at, { ...now, x: now.x + along, y: now.y + across });
}

let waiting = 0;
let asked = null;

function ask() {
  figures.classList.add("is-waiting");
  clearTimeout(waiting);
  waiting = setTimeout(fetchFigures, WAIT_MS);
}

async function fetchFigures() {
  asked?.abort();
  asked = new AbortController();
  const address = `${places.action}?${new URLSearchParams(new FormData(places))}`;
  try {
    const answer = await fetch(address, { headers: { "HX-Request": "true" }, signal: asked.signal, credentials: "same-origin" });
    if (!answer.ok && answer.status !== 422) throw new Error(answer.statusText);
    figures.innerHTML = await answer.text();
    tellProblems();
    follow();
  } catch (problem) {
    if (problem.name === "AbortError") return;
    figures.classList.remove("is-waiting");
    figures.querySelector(".verdict span").textContent = "The yard does not answer: what is drawn has not been measured.";
  }
}

// What is wrong with a place is said beside its field too.
function tellProblems() {
  for (const old of places.querySelectorAll(".errorlist")) old.remove();
  for (const input of places.querySelectorAll("input[name^=m]")) {
    const said = figures.querySelector(`[data-problem="${input.name}"]`);
    const box = document.getElementById(`field-${input.name}`);
    box?.classList.toggle("field-wrong", Boolean(said));
    input.removeAttribute("aria-invalid");
    if (!said || !box) continue;
    input.setAttribute("aria-invalid", "true");
    const list = document.createElement("ul");
    list.className = "errorlist";
    list.append(Object.assign(document.createElement("li"), { textContent: said.textContent.split(": ").slice(1).join(": ") }));
    box.append(list);
  }
}

// What depends on where things lie is drawn as the server found it.
function follow() {
  const found = figures.querySelector("[data-outcome]");
  figures.classList.remove("is-waiting");
  board.classList.toggle("is-off", found?.dataset.fits !== "yes");
  if (!found) return;
  for (const name of ["top", "resin", "cuts"]) board.querySelector(`[data-${name}]`).setAttribute("d", found.dataset[name]);
  board.querySelector("[data-edge]").setAttribute("d", found.dataset.top);
  placeHandles();
  for (const copy of document.querySelectorAll("[data-copy]")) {
    const source = places.elements[copy.dataset.copy];
    if (source) copy.value = source.type === "checkbox" ? (source.checked ? "on" : "") : source.value;
  }
}

// The dot that turns a top or a slab is as large on the screen however near the bench is seen.
const DOT_PX = 9;
const REACH_PX = 24;

function placeHandles() {
  for (const grip of board.querySelectorAll("g[data-turn]")) {
    grip.removeAttribute("visibility");
    grip.querySelector(".turn-handle").setAttribute("r", view.mm(DOT_PX));
    grip.querySelector(".turn-reach").setAttribute("r", view.mm(REACH_PX));
    if (grip.closest("[data-kind=top]")) {
      const box = board.querySelector("[data-edge]").getBBox();
      grip.setAttribute("transform", `translate(${box.x + box.width} 0)`);
    }
  }
}

const view = new View(board, () => placeHandles());
const spot = (event) => ({ x: event.clientX, y: event.clientY });
const held = new Map(); // pointer → where it is on the screen
let drag = null; // what one finger or the mouse moves
let two = null; // what two fingers do: turn what is held, or see it nearer

function begin(event) {
  const one = event.target.closest("[data-mover]");
  if (!one && !view.isNear && !held.size && event.pointerType === "mouse") return;
  held.set(event.pointerId, spot(event));
  if (held.size === 2) two = { ...spread(), does: drag?.one ? "" : "zoom" };
  if (held.size > 1) return hold(event);
  drag = { one, at: Number(one?.dataset.mover), isTurning: event.target.hasAttribute("data-turn") };
  if (one) {
    one.focus({ preventScroll: true });
    one.classList.add("is-held");
  }
  if (one || view.isNear) hold(event);
}

function hold(event) {
  event.preventDefault();
  board.setPointerCapture(event.pointerId);
}

function go(event) {
  const before = held.get(event.pointerId);
  if (!before || !drag) return;
  const now = spot(event);
  if (held.size === 2) return goTwo(event.pointerId, before, now);
  held.set(event.pointerId, now);
  const [from, to] = [view.point(before), view.point(now)];
  if (!drag.one) return view.isNear ? view.pan(from.x - to.x, from.y - to.y) : undefined;
  if (drag.isTurning) return write(drag.at, turned(drag.at, angleAbout(drag.one, from, to)));
  move(drag.at, to.x - from.x, from.y - to.y);
}

const bearing = (from, to) => (Math.atan2(-(to.y - from.y), to.x - from.x) * 180) / Math.PI;
const between = (from, to) => ((to - from + 540) % 360) - 180;

function spread() {
  const [one, other] = [...held.values()];
  return { apart: Math.hypot(one.x - other.x, one.y - other.y) || 1, bearing: bearing(one, other), middle: { x: (one.x + other.x) / 2, y: (one.y + other.y) / 2 } };
}

// Two fingers first show what they mean: turned by some degrees, or drawn clearly apart.
const MEANT_DEG = 4;
const MEANT_APART = 1.12;

function goTwo(pointer, before, now) {
  const was = spread();
  held.set(pointer, now);
  const is = spread();
  if (!two.does) {
    const grown = Math.abs(Math.log(is.apart / two.apart));
    const spun = Math.abs(between(two.bearing, is.bearing));
    if (spun >= MEANT_DEG) two.does = "turn";
    else if (grown >= Math.log(MEANT_APART)) two.does = "zoom";
    return;
  }
  if (two.does === "turn") return write(drag.at, turned(drag.at, between(was.bearing, is.bearing)));
  const [from, to] = [view.point(was.middle), view.point(is.middle)];
  view.pan(from.x - to.x, from.y - to.y);
  view.zoom(is.apart / was.apart, view.point(is.middle));
}

// The middle about which a thing is turned, in the drawing's mm.
function middleOf(one) {
  const { cx = 0, cy = 0 } = one.dataset;
  return new DOMPoint(Number(cx), Number(cy)).matrixTransform(one.transform.baseVal.consolidate().matrix);
}

function angleAbout(one, before, now) {
  const middle = middleOf(one);
  return between(bearing(middle, before), bearing(middle, now));
}

function end(event) {
  if (!held.delete(event.pointerId)) return;
  two = null;
  if (held.size) return;
  drag?.one?.classList.remove("is-held");
  drag = null;
}

// A page is not scrolled by a finger on the top or a slab, nor by two on the bench; by one beside
// them it is, unless the bench is seen nearer.
function claim(event) {
  const isOurs = event.touches.length > 1 || view.isNear || event.target.closest("[data-mover]");
  if (isOurs && event.cancelable) event.preventDefault();
}

function wheel(event) {
  if (!event.ctrlKey) return;
  event.preventDefault();
  view.zoom(Math.exp(-event.deltaY / 200), view.point(spot(event)));
}

function zoomed(event) {
  const factor = Number(event.target.closest("[data-zoom]")?.dataset.zoom);
  if (factor > 0) view.zoom(factor);
  else if (factor === 0) view.all();
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

function key(event) {
  const one = event.target.closest?.("[data-mover]");
  if (!one) return;
  const at = Number(one.dataset.mover);
  const nearer = { "+": 1.6, "=": 1.6, "-": 0.625 }[event.key];
  if (nearer) view.zoom(nearer);
  if (event.key === "0") view.all();
  const times = event.shiftKey ? FAR : 1;
  if (event.key in ARROWS) {
    const [along, across] = ARROWS[event.key];
    move(at, along * STEP_MM * times, across * STEP_MM * times);
  } else if (event.key === "," || event.key === "<") write(at, turned(at, 0.5 * times));
  else if (event.key === "." || event.key === ">") write(at, turned(at, -0.5 * times));
  else return;
  event.preventDefault();
}

function nudge(event) {
  const button = event.target.closest("[data-nudge]");
  if (!button) return;
  const at = Number(button.closest("[data-hand]").dataset.hand);
  const [along, across, turn] = button.dataset.nudge.split(" ").map(Number);
  if (turn) write(at, turned(at, turn));
  else move(at, along * STEP_MM, across * STEP_MM);
}

function typed(event) {
  const at = event.target.closest("[data-hand]")?.dataset.hand;
  if (at === undefined) return;
  if (isRead(Number(at))) draw(Number(at));
  ask();
}

// The best fit stands in the page: nothing typed into the note is lost on the way to it.
function snap(event) {
  event.preventDefault();
  JSON.parse(root.dataset.best).forEach((best, at) => {
    for (const name of ["x", "y", "turn"]) field(at, name).value = best[name];
    const flip = field(at, "flip");
    if (flip) flip.checked = best.flip;
    draw(at);
  });
  ask();
}

board.addEventListener("pointerdown", begin);
board.addEventListener("pointermove", go);
board.addEventListener("pointerup", end);
board.addEventListener("pointercancel", end);
board.addEventListener("keydown", key);
board.addEventListener("touchstart", claim, { passive: false });
board.addEventListener("wheel", wheel, { passive: false });
root.querySelector("[data-zoom-controls]").addEventListener("click", zoomed);
document.querySelector("[data-snap]").addEventListener("click", snap);
places.addEventListener("click", nudge);
places.addEventListener("change", typed);
for (const hidden of root.querySelectorAll("[data-nudges], [data-hint], [data-zoom-controls]")) hidden.hidden = false;
places.querySelector("[data-show]").hidden = true;
follow();
