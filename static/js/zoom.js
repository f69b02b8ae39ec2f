// A picture seen close: pinch, wheel, keys or buttons to come nearer, drag to move about.
// Without this the picture's link opens the largest file.

const NEAREST = 8;
const KEY_STEP_PX = 80;

class Magnifier {
  constructor() {
    this.fingers = new Map();
    this.dialog = document.createElement("dialog");
    this.dialog.className = "magnifier";
    this.dialog.setAttribute("aria-label", "Picture, enlarged");
    this.stage = this.dialog.appendChild(document.createElement("div"));
    this.stage.className = "magnifier-stage";
    this.picture = this.stage.appendChild(document.createElement("img"));
    this.picture.draggable = false;
    this.words = this.dialog.appendChild(document.createElement("p"));
    this.words.className = "magnifier-words";
    this.addKeys();
    document.body.append(this.dialog);
    this.listen();
  }

  addKeys() {
    const keys = this.dialog.appendChild(document.createElement("div"));
    keys.className = "magnifier-keys";
    const add = (sign, label, act) => {
      const button = keys.appendChild(document.createElement("button"));
      Object.assign(button, { type: "button", className: "button", textContent: sign, ariaLabel: label });
      button.setAttribute("aria-label", label);
      button.addEventListener("click", act);
    };
    add("−", "Farther", () => this.zoomAtMiddle(1 / 1.5));
    add("+", "Nearer", () => this.zoomAtMiddle(1.5));
    add("×", "Close", () => this.dialog.close());
  }

  listen() {
    this.stage.addEventListener("wheel", (event) => this.onWheel(event), { passive: false });
    this.stage.addEventListener("pointerdown", (event) => this.onDown(event));
    this.stage.addEventListener("pointermove", (event) => this.onMove(event));
    for (const end of ["pointerup", "pointercancel"]) {
      this.stage.addEventListener(end, (event) => this.fingers.delete(event.pointerId));
    }
    this.stage.addEventListener("dblclick", (event) => this.onDoubleTap(event));
    this.dialog.addEventListener("keydown", (event) => this.onKey(event));
    window.addEventListener("resize", () => this.dialog.open && this.place(1, 0, 0));
  }

  open(link) {
    const small = link.querySelector("img");
    this.picture.src = small.currentSrc || small.src;
    this.picture.alt = small.alt;
    this.words.textContent = link.dataset.words;
    const large = new Image();
    large.addEventListener("load", () => (this.picture.src = large.src), { once: true });
    large.src = link.href;
    this.place(1, 0, 0);
    this.dialog.showModal();
  }

  // Scale and shift, kept so that the picture never leaves the stage.
  place(scale, x, y) {
    const { clientWidth: wide, clientHeight: high } = this.stage;
    this.scale = Math.min(NEAREST, Math.max(1, scale));
    this.x = Math.min(0, Math.max(wide * (1 - this.scale), x));
    this.y = Math.min(0, Math.max(high * (1 - this.scale), y));
    this.picture.style.transform = `translate(${this.x}px, ${this.y}px) scale(${this.scale})`;
  }

  // The point under the finger stays under it.
  zoomAt(factor, x, y) {
    const scale = Math.min(NEAREST, Math.max(1, this.scale * factor));
    const grown = scale / this.scale;
    this.place(scale, x - (x - this.x) * grown, y - (y - this.y) * grown);
  }

  zoomAtMiddle(factor) {
    this.zoomAt(factor, this.stage.clientWidth / 2, this.stage.clientHeight / 2);
  }

  onWheel(event) {
    event.preventDefault();
    this.zoomAt(Math.exp(-event.deltaY / 400), event.clientX, event.clientY);
  }

  onDoubleTap(event) {
    if (this.scale > 1) this.place(1, 0, 0);
    else this.zoomAt(3, event.clientX, event.clientY);
  }

  onDown(event) {
    this.stage.setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, event);
  }

  onMove(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const other = [...this.fingers.values()].find((finger) => finger.pointerId !== event.pointerId);
    if (other) this.pinch(before, event, other);
    else this.place(this.scale, this.x + event.clientX - before.clientX, this.y + event.clientY - before.clientY);
    this.fingers.set(event.pointerId, event);
  }

  pinch(before, now, other) {
    const apart = (finger) => Math.hypot(finger.clientX - other.clientX, finger.clientY - other.clientY) || 1;
    const middleX = (now.clientX + other.clientX) / 2;
    const middleY = (now.clientY + other.clientY) / 2;
    this.zoomAt(apart(now) / apart(before), middleX, middleY);
  }

  onKey(event) {
    const moves = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    if (event.key === "+" || event.key === "=") this.zoomAtMiddle(1.5);
    else if (event.key === "-") this.zoomAtMiddle(1 / 1.5);
    else if (event.key === "0") this.place(1, 0, 0);
    else if (event.key in moves) {
      const [x, y] = moves[event.key];
      this.place(this.scale, this.x + x * KEY_STEP_PX, this.y + y * KEY_STEP_PX);
    } else return;
    event.preventDefault();
  }
}

let magnifier;
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-zoom]");
  if (!link || event.metaKey || event.ctrlKey || event.shiftKey || !window.HTMLDialogElement) return;
  event.preventDefault();
  magnifier ??= new Magnifier();
  magnifier.open(link);
});
