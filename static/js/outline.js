// Tracing pages: the board beside its form, live figures from the server, words while one waits.

import { Board } from "./outline_board.js";
import { Kept, sayRestored } from "./outline_kept.js";
import { listenToForms } from "./outline_waiting.js";

const PAUSE_MS = 300;

// Figures of the line as it stands; the server alone knows how to measure.
class Live {
  constructor(form) {
    this.form = form;
    this.box = form.querySelector("[data-figures]");
    for (const field of form.querySelectorAll("[name=bark], [name=bark_mm]")) {
      field.addEventListener("input", () => this.soon());
    }
  }

  soon() {
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.ask(), PAUSE_MS);
  }

  async ask() {
    this.asked?.abort();
    this.asked = new AbortController();
    this.box.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(this.form.dataset.live, {
        method: "POST",
        body: new FormData(this.form),
        signal: this.asked.signal,
      });
      if (answer.ok || answer.status === 422) this.box.innerHTML = await answer.text();
      else this.fail();
      this.box.removeAttribute("aria-busy");
    } catch (problem) {
      if (problem.name !== "AbortError") this.fail();
    }
  }

  fail() {
    this.box.removeAttribute("aria-busy");
    const words = document.createElement("p");
    words.className = "notice notice-caution";
    words.textContent = "The figures could not be fetched. The line is still here: move a point, or keep it.";
    this.box.replaceChildren(words);
  }
}

function trace(form) {
  const live = form.dataset.live ? new Live(form) : null;
  const full = form.querySelector("[data-when-full]");
  const [root, field] = [form.querySelector("[data-board]"), form.querySelector("[data-field]")];
  const kept = new Kept(form, field, root.dataset.board);
  const changed = (board) => {
    kept.write(field.value);
    live?.soon();
    if (full) full.disabled = !board.isFull;
  };
  const board = new Board(root, field, changed);
  const before = kept.read();
  if (before) {
    board.bringBack(before);
    sayRestored(board, form);
  }
  if (full) full.disabled = !board.isFull;
}

listenToForms();
for (const form of document.querySelectorAll("form[data-tracer]")) trace(form);
