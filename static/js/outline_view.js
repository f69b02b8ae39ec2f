// The part of a drawing board that is in sight: wheel, pinch and buttons come near, dragging moves.
// `u` is how much of the board (mm or px) one pixel of the screen shows.

const NEAREST = 40;
const AIR = 1.25;

export class View {
  constructor(stage, box, begin, changed) {
    Object.assign(this, { stage, box, begin, changed });
    this.fit(begin);
    new ResizeObserver(() => this.resized()).observe(stage);
  }

  get wide() { return this.stage.clientWidth || 1; }
  get high() { return this.stage.clientHeight || 1; }

  needed([, , wide, high]) { return Math.max(wide / this.wide, high / this.high); }

  fit(part = this.box) {
    const [x, y, wide, high] = part;
    this.u = this.needed(part);
    this.x = x + wide / 2;
    this.y = y + high / 2;
    this.hasMoved = part !== this.begin;
    this.place();
  }

  resized() {
    if (this.hasMoved) this.place();
    else this.fit(this.begin);
  }

  place() {
    const farthest = this.needed(this.box) * AIR;
    this.u = Math.min(farthest, Math.max(farthest / NEAREST, this.u));
    const [left, top, wide, high] = this.box;
    this.x = Math.min(left + wide, Math.max(left, this.x));
    this.y = Math.min(top + high, Math.max(top, this.y));
    const [w, h] = [this.wide * this.u, this.high * this.u];
    this.stage.setAttribute("viewBox", `${this.x - w / 2} ${this.y - h / 2} ${w} ${h}`);
    this.changed();
  }

  at(event) {
    const frame = this.stage.getBoundingClientRect();
    return {
      x: this.x + (event.clientX - frame.left - this.wide / 2) * this.u,
      y: this.y + (event.clientY - frame.top - this.high / 2) * this.u,
    };
  }

  // The place under the finger stays under it.
  zoom(factor, event) {
    const before = event ? this.at(event) : { x: this.x, y: this.y };
    this.hasMoved = true;
    this.u /= factor;
    this.place();
    const after = event ? this.at(event) : before;
    this.shift(before.x - after.x, before.y - after.y);
  }

  shift(dx, dy) {
    this.hasMoved = true;
    this.x += dx;
    this.y += dy;
    this.place();
  }

  // Bring a place into sight that lies outside, as a keyboard reaches it.
  show({ x, y }) {
    const [w, h] = [this.wide * this.u * 0.42, this.high * this.u * 0.42];
    if (Math.abs(x - this.x) > w || Math.abs(y - this.y) > h) this.shift(x - this.x, y - this.y);
  }
}
