// Laying a top by hand: drag, turn, nudge; every figure comes from the server. The fields hold
// where things lie, in the person's units; the drawing follows the fields.

const root = document.querySelector("[data-laying]");
const board = root.querySelector(".laying-board");
const places = document.getElementById("places");
const figures = document.getElementById("figures");
const per = Number(root.dataset.per);
const STEP_MM = per === 1 ? 5 : 25.4 / 4;
const FAR = 10;
const WAIT_MS = 140;

const field = (at, name) => places.elements[`m${at}-${name}`];
const read = (at, name) => Number(field(at, name).value.replace(",", ".")) || 0;

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
    follow();
  } catch (problem) {
    if (problem.name === "AbortError") return;
    figures.classList.remove("is-waiting");
    figures.querySelector(".verdict span").textContent = "The yard does not answer: what is drawn has not been measured.";
  }
}

// What depends on where things lie is drawn as the server found it.
function follow() {
  const found = figures.querySelector("[data-outcome]");
  figures.classList.remove("is-waiting");
  if (!found) return;
  for (const name of ["top", "resin", "cuts"]) board.querySelector(`[data-${name}]`).setAttribute("d", found.dataset[name]);
  board.querySelector("[data-edge]").setAttribute("d", found.dataset.top);
  board.classList.toggle("is-off", found.dataset.fits !== "yes");
  placeHandle();
  for (const copy of document.querySelectorAll("[data-copy]")) {
    const source = places.elements[copy.dataset.copy];
    if (source) copy.value = source.type === "checkbox" ? (source.checked ? "on" : "") : source.value;
  }
}

function placeHandle() {
  const handle = board.querySelector("[data-turn]");
  const box = board.querySelector("[data-edge]").getBBox();
  handle?.setAttribute("cx", box.x + box.width);
}

const point = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(board.getScreenCTM().inverse());
const held = new Map();
let drag = null;

function begin(event) {
  const one = event.target.closest("[data-mover]");
  if (!one) return;
  event.preventDefault();
  one.focus({ preventScroll: true });
  board.setPointerCapture(event.pointerId);
  held.set(event.pointerId, point(event));
  one.classList.add("is-held");
  drag = { at: Number(one.dataset.mover), isTurning: event.target.hasAttribute("data-turn"), one };
}

function go(event) {
  if (!drag || !held.has(event.pointerId)) return;
  const before = held.get(event.pointerId);
  const now = point(event);
  held.set(event.pointerId, now);
  if (held.size === 2) return twist(event.pointerId, before, now);
  if (drag.isTurning) return write(drag.at, turned(drag.at, angleAbout(drag.at, before, now)));
  move(drag.at, now.x - before.x, before.y - now.y);
}

const bearing = (from, to) => (Math.atan2(-(to.y - from.y), to.x - from.x) * 180) / Math.PI;
const between = (from, to) => ((to - from + 540) % 360) - 180;

function angleAbout(at, before, now) {
  const { x, y } = hand(at);
  const centre = { x, y: -y };
  return between(bearing(centre, before), bearing(centre, now));
}

function twist(pointer, before, now) {
  const other = [...held].find(([id]) => id !== pointer)[1];
  write(drag.at, turned(drag.at, between(bearing(other, before), bearing(other, now))));
}

function end(event) {
  held.delete(event.pointerId);
  if (held.size) return;
  drag?.one.classList.remove("is-held");
  drag = null;
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

function key(event) {
  const one = event.target.closest?.("[data-mover]");
  if (!one) return;
  const at = Number(one.dataset.mover);
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
  draw(Number(at));
  ask();
}

board.addEventListener("pointerdown", begin);
board.addEventListener("pointermove", go);
board.addEventListener("pointerup", end);
board.addEventListener("pointercancel", end);
board.addEventListener("keydown", key);
places.addEventListener("click", nudge);
places.addEventListener("change", typed);
for (const hidden of root.querySelectorAll("[data-nudges], [data-hint]")) hidden.hidden = false;
places.querySelector("[data-show]").hidden = true;
follow();
