// Tracing pages: the board beside its form, live figures from the server, words while one waits.

import { Board } from "./outline_board.js";

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
  const changed = (board) => {
    live?.soon();
    if (full) full.disabled = !board.isFull;
  };
  const board = new Board(form.querySelector("[data-board]"), form.querySelector("[data-field]"), changed);
  if (full) full.disabled = !board.isFull;
}

// A picture takes a second or more to be read: the page says so, and what it is doing.
function busy(event) {
  const form = event.target.closest("form[data-busy]");
  const words = form?.querySelector("[data-busy-words]");
  if (!words || event.defaultPrevented) return;
  words.textContent = form.dataset.busy;
  words.classList.add("is-busy");
}

document.addEventListener("submit", busy);
window.addEventListener("pageshow", () => {
  for (const words of document.querySelectorAll("[data-busy-words]")) {
    words.textContent = "";
    words.classList.remove("is-busy");
  }
});
for (const form of document.querySelectorAll("form[data-tracer]")) trace(form);
