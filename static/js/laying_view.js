// Seeing the bench nearer. Only the drawing's view box changes, never what is laid.

const NEAREST = 8;

export class View {
  constructor(board, changed) {
    const { x, y, width, height } = board.viewBox.baseVal;
    this.board = board;
    this.whole = { x, y, width, height };
    this.middle = { x: x + width / 2, y: y + height / 2 };
    this.scale = 1;
    this.changed = changed;
    new ResizeObserver(changed).observe(board);
  }

  get isNear() {
    return this.scale > 1;
  }

  // A place on the screen in the drawing's own mm.
  point({ x, y }) {
    return new DOMPoint(x, y).matrixTransform(this.board.getScreenCTM().inverse());
  }

  // So many pixels of the screen as mm of the drawing.
  mm(pixels) {
    return pixels / this.board.getScreenCTM().a;
  }

  // What lies at the point (in the drawing's mm) stays where it is on the screen.
  zoom(factor, at = this.middle) {
    const scale = Math.min(NEAREST, Math.max(1, this.scale * factor));
    const shrunk = this.scale / scale;
    this.scale = scale;
    this.look(at.x - (at.x - this.middle.x) * shrunk, at.y - (at.y - this.middle.y) * shrunk);
  }

  pan(along, down) {
    this.look(this.middle.x + along, this.middle.y + down);
  }

  all() {
    this.scale = 1;
    this.look(this.middle.x, this.middle.y);
  }

  // The middle stays where the whole bench's drawing still fills the view.
  look(x, y) {
    const { whole, scale } = this;
    const [width, height] = [whole.width / scale, whole.height / scale];
    const within = (value, from, length, shown) => Math.min(from + length - shown / 2, Math.max(from + shown / 2, value));
    this.middle = { x: within(x, whole.x, whole.width, width), y: within(y, whole.y, whole.height, height) };
    this.board.setAttribute("viewBox", [this.middle.x - width / 2, this.middle.y - height / 2, width, height].join(" "));
    this.board.classList.toggle("is-near", this.isNear);
    this.changed();
  }
}
