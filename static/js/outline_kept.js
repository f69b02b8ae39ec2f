// What is drawn outlives a page that is lost: a phone that closes it, a signal that goes while it
// is sent. Kept in the tab, beside the draft it began from: another draft begins anew.

const KEY = "waneyard-drawn:";

export class Kept {
  constructor(form, field, mode) {
    this.key = `${KEY}${mode}:${form.getAttribute("action")}`;
    this.began = field.value;
  }

  // What was drawn before on the same beginning; null when there is nothing else to bring back.
  read() {
    try {
      const kept = JSON.parse(window.sessionStorage.getItem(this.key));
      return kept && kept.began === this.began && kept.drawn !== this.began ? kept.drawn : null;
    } catch {
      return null;
    }
  }

  write(drawn) {
    try {
      window.sessionStorage.setItem(this.key, JSON.stringify({ began: this.began, drawn }));
    } catch { /* full or shut */ }
  }
}

export function sayRestored(board, form) {
  const words = document.createElement("p");
  words.className = "notice";
  words.setAttribute("role", "status");
  words.textContent = board.mode === "line"
    ? "The line as you left it is back. Undo returns to the draft."
    : "Your points from before are back. Undo takes them away.";
  form.querySelector("[data-board]").before(words);
}
