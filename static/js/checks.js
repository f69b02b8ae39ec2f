// Entering a check with gloves on: big keys, a drawing to tap, a draft that outlives a lost signal.
// Without JavaScript the same form works with plain inputs and selects.

const DRAFT = "waneyard-check:";
const SVG = "http://www.w3.org/2000/svg";
const KEYS = ["1", "2", "3", "del", "4", "5", "6", "hide", "7", "8", "9", "next", ".", "0"];
const WORDS = { del: "⌫", hide: "Hide", next: "Next" };
const SAID = { del: "Delete the last figure", hide: "Hide the keys", next: "Next reading", ".": "Decimal point" };

const store = {
  read(code) {
    try { return JSON.parse(window.localStorage.getItem(DRAFT + code)); } catch { return null; }
  },
  write(code, draft) {
    try { window.localStorage.setItem(DRAFT + code, JSON.stringify(draft)); } catch { /* full or shut */ }
  },
  drop(code) {
    try { window.localStorage.removeItem(DRAFT + code); } catch { /* shut */ }
  },
};

// A saved check needs no draft any more; one begun after it stays.
function forgetSaved() {
  const saved = document.querySelector("[data-saved]");
  if (!saved) return;
  const draft = store.read(saved.dataset.saved);
  if (draft && draft.values.entry_key === saved.dataset.savedKey) store.drop(saved.dataset.saved);
}

function keepDraft(form) {
  const code = form.dataset.draft;
  const note = form.querySelector("[data-draft-note]");
  const fields = [...form.elements].filter((field) => field.name && field.name !== "csrfmiddlewaretoken" && field.type !== "submit");
  const draft = store.read(code);
  if (draft && "fresh" in form.dataset && draft.hasReadings) {
    for (const field of fields) if (field.name in draft.values) setValue(field, draft.values[field.name]);
    say(note, `Kept from ${new Date(draft.at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" })}, not sent yet. `, "Start afresh", () => {
      store.drop(code);
      window.location.reload();
    });
  }
  const remember = () => {
    const values = Object.fromEntries(fields.map((field) => [field.name, field.value]));
    const hasReadings = fields.some((field) => field.name.endsWith("-value") && field.value.trim());
    store.write(code, { values, hasReadings, at: Date.now() });
  };
  form.addEventListener("input", remember);
  form.addEventListener("change", remember);
  form.addEventListener("submit", (event) => {
    remember();
    if (navigator.onLine) return;
    event.preventDefault();
    event.stopPropagation();
    say(note, "No signal here. What you typed is kept on this phone: send it when the signal is back.");
    note.scrollIntoView({ block: "center" });
  });
}

function setValue(field, value) {
  if (field.tagName === "SELECT" && ![...field.options].some((option) => option.value === value)) {
    field.add(new Option(value, value));
  }
  field.value = value;
}

function say(note, words, action, act) {
  note.textContent = words;
  if (action) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button-quiet";
    button.textContent = action;
    button.addEventListener("click", act);
    note.append(button);
  }
  note.hidden = false;
}

// The keys: on touch screens, in place of the phone's own keyboard.
function layKeys(form, pad) {
  const inputs = [...form.querySelectorAll(".reading-value")];
  if (!window.matchMedia("(pointer: coarse), (max-width: 860px)").matches) return;
  let active = null;
  let closing = 0;
  const close = () => {
    pad.hidden = true;
    document.body.classList.remove("keypad-open");
    inputs.forEach((input) => input.classList.remove("is-active"));
  };
  const open = (input) => {
    window.clearTimeout(closing);
    active = input;
    pad.hidden = false;
    document.body.classList.add("keypad-open");
    inputs.forEach((other) => other.classList.toggle("is-active", other === input));
    input.scrollIntoView({ block: "center" });
  };
  const next = () => {
    const visible = inputs.filter((input) => input.offsetParent);
    const following = visible[visible.indexOf(active) + 1];
    if (following) return following.focus();
    close();
    return form.querySelector(".button-main").focus();
  };
  const press = (key) => {
    if (key === "hide") return close();
    if (key === "next") return next();
    if (key === "del") active.value = active.value.slice(0, -1);
    else if (key !== "." || !/[.,]/.test(active.value)) active.value += key;
    return active.dispatchEvent(new Event("input", { bubbles: true }));
  };
  for (const key of KEYS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = WORDS[key] ?? key;
    button.className = `key key-${key === "." ? "point" : key}${key === "next" || key === "hide" ? " key-word" : ""}`;
    if (SAID[key]) button.setAttribute("aria-label", SAID[key]);
    button.addEventListener("pointerdown", (event) => event.preventDefault());
    button.addEventListener("click", () => press(key));
    pad.append(button);
  }
  for (const input of inputs) {
    input.inputMode = "none";
    input.addEventListener("focus", () => open(input));
    input.addEventListener("click", () => open(input));
    input.addEventListener("keydown", (event) => {
      if (event.key === "Escape") close();
    });
  }
  // Closing moves what lies under the finger: wait until the tap that took the focus has landed.
  form.addEventListener("focusin", (event) => {
    if (event.target.classList.contains("reading-value")) return;
    window.clearTimeout(closing);
    closing = window.setTimeout(close, 300);
  });
  // A question after sending puts the focus on its reading before this module has run.
  if (inputs.includes(document.activeElement)) open(document.activeElement);
}

// The drawing: a spot for each reading; a tap moves the spot of the reading in hand.
function drawSpots(form, box) {
  const svg = box.querySelector("svg");
  const [, , width] = svg.getAttribute("viewBox").split(" ").map(Number);
  const margin = Number(box.dataset.margin);
  const rows = [...form.querySelectorAll("[data-reading]")];
  const layer = svg.appendChild(document.createElementNS(SVG, "g"));
  let active = rows[0];
  const select = (row) => row.querySelector("select[name$=-along]");
  const selectAcross = (row) => row.querySelector("select[name$=-across]");
  const middle = svg.viewBox.baseVal.height / 2;
  const half = (x) => halfWidth(svg.querySelector(".strip-wood"), x, middle);
  const redraw = () => {
    layer.replaceChildren();
    const seen = {};
    for (const row of rows) {
      const along = select(row).value;
      const value = row.querySelector(".reading-value").value.trim();
      if (along === "" || (!row.offsetParent && !value)) continue;
      const across = selectAcross(row).value;
      const level = (seen[along + across] = (seen[along + across] ?? -1) + 1);
      const x = margin + Number(along) * (width - 2 * margin);
      const y = middle + (across === "" ? 0 : (0.5 - Number(across)) * 2 * half(x));
      const spot = document.createElementNS(SVG, "circle");
      spot.setAttribute("cx", x);
      spot.setAttribute("cy", y + [0, -22, 22, -40, 40][level % 5]);
      spot.setAttribute("r", 7);
      spot.setAttribute("class", `spot${value ? " is-filled" : ""}${row === active ? " is-active" : ""}`);
      layer.append(spot);
    }
  };
  const relabel = (row) => {
    const deep = row.querySelector("[name$=-other_depth]").value.trim();
    const across = selectAcross(row).value === "" ? "" : `, ${chosen(selectAcross(row)).toLowerCase()}`;
    row.querySelector("[data-where]").textContent = chosen(select(row)) + across;
    row.querySelector("[data-deep]").textContent = deep || chosen(row.querySelector("select[name$=-depth]"));
    redraw();
  };
  for (const row of rows) {
    row.addEventListener("focusin", () => { active = row; redraw(); });
    row.addEventListener("input", () => relabel(row));
    row.addEventListener("change", () => relabel(row));
  }
  svg.addEventListener("click", (event) => {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    const along = Math.min(1, Math.max(0, (point.x - margin) / (width - 2 * margin))).toFixed(2);
    const field = select(active);
    if (![...field.options].some((option) => option.value === along)) field.add(new Option(placeWords(along, box), along));
    field.value = along;
    selectAcross(active).value = nearestAcross(selectAcross(active), 0.5 + (middle - point.y) / (2 * half(point.x)));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
  form.querySelectorAll("details").forEach((details) => details.addEventListener("toggle", redraw));
  box.classList.add("can-tap");
  box.querySelector("[data-strip-hint]").hidden = false;
  rows.forEach(relabel);
}

// How far the wood reaches from the middle of the drawing, at x.
function halfWidth(wood, x, middle) {
  let reach = 0;
  while (reach < middle && wood.isPointInFill(new DOMPoint(x, middle + reach))) reach += 2;
  return Math.max(reach, 1);
}

// Of the places across that are offered, the one nearest to a tap.
function nearestAcross(field, share) {
  const offered = [...field.options].map((option) => option.value).filter((value) => value !== "");
  return offered.reduce((best, value) => (Math.abs(value - share) < Math.abs(best - share) ? value : best));
}

function chosen(field) {
  return field.selectedOptions[0]?.textContent ?? "";
}

// As the page itself says it: “Left, 16 in from the end”.
function placeWords(along, box) {
  const share = Number(along);
  if (Math.abs(share - 0.5) < 0.005) return "Middle";
  const fromEnd = Math.min(share, 1 - share) * Number(box.dataset.lengthMm);
  return `${share < 0.5 ? "Left" : "Right"}, ${lengthWords(fromEnd, box.dataset.system)} from the end`;
}

function lengthWords(mm, system) {
  if (system === "metric") return mm < 995 ? `${Math.round(mm / 10) * 10} mm` : `${(mm / 1000).toFixed(2)} m`;
  const inches = Math.round(mm / 25.4);
  if (inches < 24) return `${inches} in`;
  return inches % 12 ? `${Math.floor(inches / 12)} ft ${inches % 12} in` : `${inches / 12} ft`;
}

forgetSaved();
const form = document.querySelector(".check-form");
if (form) {
  if (form.dataset.draft) keepDraft(form);
  drawSpots(form, form.querySelector("[data-strip]"));
  layKeys(form, document.querySelector("[data-keypad]"));
}
