// A drawing board over a picture: points put, dragged, added and taken out by finger, mouse or keys.
// "marks" puts a few points, "clicks" puts them round the slab, "line" puts a drafted line right.

import { Drawing, HINTS } from "./outline_drawing.js";
import { listed, moved, nearestOn, ringFrom, withHandle, without } from "./outline_ring.js";
import { View } from "./outline_view.js";

const GRAB_PX = { mouse: 14, touch: 24, pen: 18 };
const TAP_PX = 6;
// While points are put, a tap no nearer than this to a point puts another one beside it.
const ON_POINT_PX = { mouse: 6, touch: 12, pen: 8 };
const MOST_STEPS = 200;
const CURSOR_PX = 24;
const NO_ONE = { ring: -1, at: -1 };

export class Board extends Drawing {
  constructor(root, field, changed) {
    super(root);
    Object.assign(this, { field, changed });
    this.mode = root.dataset.board;
    this.most = Number(root.dataset.most) || Infinity;
    this.step = Number(root.dataset.step) || 1;
    this.fingers = new Map();
    this.steps = [];
    this.ahead = [];
    this.chosen = NO_ONE;
    this.hole = -1;
    this.read();
    const numbers = (text) => text.split(" ").map(Number);
    this.view = new View(this.stage, numbers(root.dataset.box), numbers(root.dataset.begin), () => this.draw());
    this.listen();
    this.draw();
  }

  // --- what is drawn, as the form's field holds it --------------------------------------

  read() {
    const said = JSON.parse(this.field.value || "[]");
    this.weak = said.weak ?? [];
    this.corrected = said.corrected ?? 0;
    this.rings = Array.isArray(said) ? [ringFrom(said)] : [ringFrom(said.outline), ...said.holes.map(ringFrom)];
  }

  // What was drawn before on the same page, as one step that can be taken back.
  bringBack(drawn) {
    this.remember();
    this.field.value = drawn;
    this.read();
    this.settle(this.rings, NO_ONE);
  }

  write() {
    const [outline, ...holes] = this.rings.map(listed);
    const said = { outline, holes, weak: this.weak, corrected: this.corrected };
    this.field.value = JSON.stringify(this.mode === "line" ? said : outline.map(([x, y]) => [x, y]));
    this.changed(this);
  }

  get isAdding() { return this.mode !== "line" || this.hole >= 0; }
  get target() { return this.mode === "line" ? this.hole : 0; }
  get count() { return this.rings[0].length; }
  get isFull() { return this.mode === "marks" && this.count >= this.most; }

  // --- changing it, each a step that can be taken back ----------------------------------

  remember() {
    this.steps.push(this.state());
    if (this.steps.length > MOST_STEPS) this.steps.shift();
    this.ahead = [];
  }

  state() { return { rings: this.rings, hole: this.hole, corrected: this.corrected }; }

  change(rings, chosen = this.chosen) {
    this.remember();
    this.corrected += 1;
    this.settle(rings, chosen);
  }

  settle(rings, chosen) {
    this.rings = rings;
    this.chosen = chosen;
    this.write();
    this.draw();
  }

  replaced(number, ring) { return this.rings.map((old, at) => (at === number ? ring : old)); }

  back(from, to) {
    const state = from.pop();
    if (!state) return;
    to.push(this.state());
    this.hole = state.hole;
    this.corrected = state.corrected;
    this.settle(state.rings, NO_ONE);
    this.say(from === this.steps ? "A step back." : "A step on.");
  }

  put({ x, y }) {
    const ring = this.rings[this.target];
    if (this.isFull || ring.length >= this.most) return;
    const next = [...ring, { x, y, h: 2 }];
    this.change(this.replaced(this.target, next), { ring: this.target, at: next.length - 1 });
    this.say(`Point ${next.length} put.`);
  }

  insert(place, ring = place.ring) {
    const found = withHandle(this.rings[ring], place.at, place.x, place.y);
    this.change(this.replaced(ring, found.ring), { ring, at: found.at });
    this.say("A point added.");
  }

  insertAfter({ ring, at }) {
    const points = this.rings[ring];
    const after = points[(at + 1) % points.length];
    const [x, y] = [(points[at].x + after.x) / 2, (points[at].y + after.y) / 2];
    this.insert({ ring, at, x, y });
  }

  remove({ ring, at } = this.chosen) {
    if (ring < 0) return;
    if (this.mode === "line" && this.held[ring].size < 4) {
      if (ring > 0) this.dropHole(ring);
      else this.say("Three points are the fewest a line can have.");
      return;
    }
    this.change(this.replaced(ring, without(this.rings[ring], this.held[ring], at)), NO_ONE);
    this.say("The point is out.");
  }

  toggleHole() {
    if (this.hole >= 0) {
      const isShape = this.rings[this.hole].length >= 3;
      const kept = isShape ? this.rings : this.rings.filter((_, at) => at !== this.hole);
      this.hole = -1;
      this.settle(kept, NO_ONE);
      this.say(isShape ? "The hole is traced." : "No hole was traced: it needs three points.");
      return;
    }
    this.remember();
    this.rings = [...this.rings, []];
    this.hole = this.rings.length - 1;
    this.chosen = NO_ONE;
    this.draw();
    this.say(HINTS.hole);
  }

  dropHole(ring = this.chosen.ring) {
    if (ring < 1) return;
    this.hole = -1;
    this.change(this.rings.filter((_, at) => at !== ring), NO_ONE);
    this.say("The hole is out.");
  }

  drag(chosen, dx, dy) {
    const { ring, at } = chosen;
    this.rings = this.replaced(ring, moved(this.rings[ring], this.held[ring], at, dx, dy));
    this.chosen = chosen;
  }

  nudge(chosen, dx, dy) {
    this.remember();
    this.corrected += 1;
    this.drag(chosen, dx, dy);
    this.write();
    this.draw();
    this.view.show(this.rings[chosen.ring][chosen.at]);
  }

  // --- hands ----------------------------------------------------------------------------

  listen() {
    const { stage } = this;
    stage.addEventListener("pointerdown", (event) => this.onDown(event));
    stage.addEventListener("pointermove", (event) => this.onMove(event));
    stage.addEventListener("pointerup", (event) => this.onUp(event));
    stage.addEventListener("pointercancel", (event) => this.onUp(event, false));
    stage.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.view.zoom(Math.exp(-event.deltaY / 400), event);
    }, { passive: false });
    stage.addEventListener("keydown", (event) => this.onKey(event));
    stage.setAttribute("tabindex", "0");
    // On the stage, not on the group of handles: an SVG part that listens for focus takes it itself.
    stage.addEventListener("focusin", (event) => this.onFocus(event));
    const acts = {
      nearer: () => this.view.zoom(1.5),
      farther: () => this.view.zoom(1 / 1.5),
      whole: () => this.view.fit(),
      undo: () => this.back(this.steps, this.ahead),
      redo: () => this.back(this.ahead, this.steps),
      remove: () => this.remove(),
      hole: () => this.toggleHole(),
      "drop-hole": () => this.dropHole(),
    };
    for (const [name, button] of Object.entries(this.buttons)) {
      button.addEventListener("click", acts[name]);
      button.disabled = false;
    }
  }

  near(place, reach) {
    let best = { apart: reach };
    this.rings.forEach((ring, number) => ring.forEach((point, at) => {
      const apart = Math.hypot(point.x - place.x, point.y - place.y);
      if (this.held[number]?.has(at) && apart < best.apart) best = { ring: number, at, apart };
    }));
    return best.ring === undefined ? null : { ring: best.ring, at: best.at };
  }

  nearLine(place, reach) {
    let best = null;
    this.rings.forEach((ring, number) => {
      if (ring.length < 2) return;
      const found = nearestOn(ring, place.x, place.y);
      if (found.apart < (best?.apart ?? reach)) best = { ...found, ring: number };
    });
    return best;
  }

  onDown(event) {
    if (event.button) return;
    this.stage.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, event);
    if (this.fingers.size > 1) {
      this.letGo();
      return;
    }
    const place = this.view.at(event);
    const reach = (GRAB_PX[event.pointerType] ?? GRAB_PX.mouse) * this.view.u;
    const held = this.near(place, reach);
    this.press = { start: event, last: place, held, before: this.state(), reach, far: false };
    if (held) {
      this.chosen = held;
      this.draw();
    }
  }

  // Whether a tap on or near a point means a new one: where points are put, corners may lie close.
  isBeside({ held, start }) {
    if (!this.isAdding || this.isFull) return false;
    const on = (ON_POINT_PX[start.pointerType] ?? ON_POINT_PX.mouse) * this.view.u;
    return held.ring !== this.target || !this.near(this.view.at(start), on);
  }

  onMove(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    this.fingers.set(event.pointerId, event);
    if (this.fingers.size > 1) this.pinch(before, event);
    else if (this.press) this.slide(event, before);
  }

  pinch(before, now) {
    const other = [...this.fingers.values()].find((finger) => finger.pointerId !== now.pointerId);
    const apart = (finger) => Math.hypot(finger.clientX - other.clientX, finger.clientY - other.clientY) || 1;
    const middle = { clientX: (now.clientX + other.clientX) / 2, clientY: (now.clientY + other.clientY) / 2 };
    this.view.zoom(apart(now) / apart(before), middle);
    this.view.shift(-(now.clientX - before.clientX) * this.view.u / 2, -(now.clientY - before.clientY) * this.view.u / 2);
  }

  slide(event, before) {
    const { press } = this;
    const far = Math.hypot(event.clientX - press.start.clientX, event.clientY - press.start.clientY);
    if (!press.far && far < TAP_PX) return;
    press.far = true;
    if (!press.held) {
      this.view.shift(-(event.clientX - before.clientX) * this.view.u, -(event.clientY - before.clientY) * this.view.u);
      return;
    }
    const place = this.view.at(event);
    this.drag(press.held, place.x - press.last.x, place.y - press.last.y);
    press.last = place;
    this.draw();
    this.showLens(event);
  }

  onUp(event, isMeant = true) {
    this.fingers.delete(event.pointerId);
    const { press } = this;
    this.press = null;
    this.lens.setAttribute("hidden", "");
    if (!press) return;
    if (press.held && press.far) {
      this.steps.push(press.before);
      this.ahead = [];
      this.corrected += 1;
      this.write();
      this.draw();
    } else if (isMeant && !press.far && (!press.held || this.isBeside(press))) this.tap(press);
  }

  tap({ start, reach }) {
    const place = this.view.at(start);
    if (this.isAdding) {
      this.put(place);
      return;
    }
    const found = this.nearLine(place, reach);
    if (found) this.insert(found);
    else {
      this.chosen = NO_ONE;
      this.draw();
    }
  }

  // A second finger: what the first had begun to move goes back.
  letGo() {
    if (this.press?.held && this.press.far) this.rings = this.press.before.rings;
    this.press = null;
    this.lens.setAttribute("hidden", "");
    this.draw();
  }

  // --- keys -----------------------------------------------------------------------------

  onKey(event) {
    const chosen = this.keyOf(event.target);
    const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const control = event.ctrlKey || event.metaKey;
    const { key } = event;
    if (control && key.toLowerCase() === "z") this.back(...(event.shiftKey ? [this.ahead, this.steps] : [this.steps, this.ahead]));
    else if (control && key.toLowerCase() === "y") this.back(this.ahead, this.steps);
    else if (control || event.altKey) return;
    else if (key === "+" || key === "=") this.view.zoom(1.5);
    else if (key === "-") this.view.zoom(1 / 1.5);
    else if (key === "0") this.view.fit();
    else if (key in moves && chosen) this.pushBy(chosen, moves[key], event.shiftKey);
    else if (key in moves) this.moveCursor(moves[key], event.shiftKey);
    else if (chosen && (key === "Delete" || key === "Backspace")) this.removeByKey(chosen);
    else if (chosen && key === "Insert") this.insertAfter(chosen);
    else if (!chosen && (key === "Enter" || key === " ")) this.tapCursor();
    else return;
    event.preventDefault();
  }

  keyOf(element) {
    const handle = element.closest?.("[data-at]");
    return handle ? { ring: Number(handle.dataset.ring), at: Number(handle.dataset.at) } : null;
  }

  pushBy(chosen, [x, y], isFar) {
    const by = this.step * (isFar ? 10 : 1);
    this.nudge(chosen, x * by, y * by);
    this.say("Moved.");
  }

  removeByKey(chosen) {
    const at = [...this.held[chosen.ring]].indexOf(chosen.at);
    this.remove(chosen);
    const left = [...this.handles.querySelectorAll(`[data-ring="${chosen.ring}"]`)];
    (left[Math.max(0, at - 1)] ?? this.stage).focus();
  }

  moveCursor([x, y], isFar) {
    const by = CURSOR_PX * this.view.u * (isFar ? 4 : 1);
    this.crossAt = this.crossAt ?? { x: this.view.x, y: this.view.y };
    this.crossAt = { x: this.crossAt.x + x * by, y: this.crossAt.y + y * by };
    this.view.show(this.crossAt);
    this.draw();
  }

  tapCursor() {
    this.crossAt = this.crossAt ?? { x: this.view.x, y: this.view.y };
    const reach = GRAB_PX.touch * this.view.u;
    if (this.isAdding) this.put(this.crossAt);
    else {
      const found = this.nearLine(this.crossAt, reach);
      if (found) this.insert(found);
      else this.say("The line is not near the cross.");
    }
  }

  onFocus(event) {
    const chosen = this.keyOf(event.target);
    // A finger's tap puts the focus on the point under it afterwards: only keys bring it into sight.
    if (!chosen || this.press || !event.target.matches(":focus-visible")) return;
    this.chosen = chosen;
    this.view.show(this.rings[chosen.ring][chosen.at]);
    this.draw();
  }
}
