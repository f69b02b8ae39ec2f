// What a drawing board shows: the line, the points that can be taken hold of, the cross, the lens.

import { handlesOf, pathOf } from "./outline_ring.js";

const SVG = "http://www.w3.org/2000/svg";
const APART_PX = window.matchMedia("(pointer: coarse)").matches ? 30 : 20;
const LENS_NEARER = 3;
const PARTS = ["stage", "line", "under", "handles", "lens", "cross", "said", "hint", "cursor"];
export const HINTS = {
  hole: "Tap round the void, then “Hole is done”.",
  line: "Drag a point to the edge. Tap the line to add one.",
};

export class Drawing {
  constructor(root) {
    this.root = root;
    for (const name of PARTS) this[name] = root.querySelector(`[data-${name}]`);
    this.buttons = Object.fromEntries([...root.querySelectorAll("[data-do]")].map((b) => [b.dataset.do, b]));
    this.rings = [];
    this.held = [];
  }

  draw() {
    if (!this.view) return;
    // While a point is dragged the same ones stay; coming near shows more of them.
    if (!this.press?.held) this.held = this.rings.map((ring, number) => this.shown(ring, number));
    const path = this.rings.map((ring) => pathOf(ring, this.mode !== "marks" || ring.length > 2)).join("");
    this.line.setAttribute("d", path);
    this.under.setAttribute("d", path);
    this.drawHandles();
    this.drawCursor();
    this.enable();
  }

  shown(ring, number) {
    const held = handlesOf(ring, APART_PX * this.view.u);
    if (this.chosen.ring !== number || !ring[this.chosen.at] || held.has(this.chosen.at)) return held;
    return new Set([...held, this.chosen.at].sort((a, b) => a - b));
  }

  drawHandles() {
    const wanted = this.rings.flatMap((ring, number) => [...this.held[number]].map((at, nth) => ({ number, at, nth, point: ring[at] })));
    while (this.handles.childElementCount > wanted.length) this.handles.lastElementChild.remove();
    while (this.handles.childElementCount < wanted.length) this.handles.append(newHandle());
    wanted.forEach((each, index) => this.drawHandle(this.handles.children[index], each));
  }

  drawHandle(handle, { number, at, nth, point }) {
    const isChosen = number === this.chosen.ring && at === this.chosen.at;
    const whose = number ? `hole ${number}` : this.mode === "line" ? "line" : "picture";
    handle.setAttribute("transform", `translate(${point.x} ${point.y}) scale(${this.view.u})`);
    handle.setAttribute("class", `handle${number ? " handle-hole" : ""}${isChosen ? " is-chosen" : ""}`);
    handle.setAttribute("aria-label", `Point ${nth + 1} on the ${whose}`);
    handle.dataset.ring = number;
    handle.dataset.at = at;
    handle.firstElementChild.setAttribute("r", isChosen ? 9 : 6);
    handle.lastElementChild.textContent = this.mode === "line" ? "" : nth + 1;
  }

  drawCursor() {
    const isSeen = Boolean(this.crossAt);
    this.cursor.toggleAttribute("hidden", !isSeen);
    if (!isSeen) return;
    this.cursor.setAttribute("transform", `translate(${this.crossAt.x} ${this.crossAt.y}) scale(${this.view.u})`);
    this.cursor.firstElementChild.setAttribute("d", "M-14 0h28M0-14v28");
  }

  enable() {
    const set = (name, isOn) => this.buttons[name] && (this.buttons[name].disabled = !isOn);
    set("undo", this.steps.length);
    set("redo", this.ahead.length);
    set("remove", this.chosen.ring >= 0);
    if (this.buttons["drop-hole"]) this.buttons["drop-hole"].hidden = this.chosen.ring < 1;
    if (!this.buttons.hole) return;
    this.buttons.hole.setAttribute("aria-pressed", String(this.hole >= 0));
    this.buttons.hole.textContent = this.hole >= 0 ? "Hole is done" : "Trace a hole";
    this.hint.textContent = this.hole >= 0 ? HINTS.hole : HINTS.line;
  }

  // The place under the finger, three times as large, in the corner away from it.
  showLens(event) {
    const frame = this.stage.getBoundingClientRect();
    const point = this.rings[this.chosen.ring][this.chosen.at];
    this.lens.removeAttribute("hidden");
    const reach = (this.lens.clientWidth * this.view.u) / LENS_NEARER / 2;
    this.lens.setAttribute("viewBox", `${point.x - reach} ${point.y - reach} ${reach * 2} ${reach * 2}`);
    const arm = reach / 5;
    this.cross.setAttribute("d", `M${point.x - arm} ${point.y}h${arm * 2}M${point.x} ${point.y - arm}v${arm * 2}`);
    const isLeft = event.clientX - frame.left < frame.width / 2;
    const isHigh = event.clientY - frame.top < frame.height / 2;
    this.lens.classList.toggle("lens-right", isLeft && isHigh);
  }

  say(words) { this.said.textContent = words; }
}

function newHandle() {
  const handle = document.createElementNS(SVG, "g");
  handle.setAttribute("tabindex", "0");
  handle.setAttribute("role", "button");
  handle.append(document.createElementNS(SVG, "circle"), document.createElementNS(SVG, "text"));
  handle.lastElementChild.setAttribute("y", "-12");
  handle.lastElementChild.setAttribute("text-anchor", "middle");
  return handle;
}
