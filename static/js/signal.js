// A shed has no signal: what would be sent and lost stays on the page, and says so.

const WORDS = "No signal here. Nothing is lost: all you typed stays on this page. Send it when the signal is back.";
const BACK = "The signal is back: send it now.";

function note(form, words) {
  let box = form.querySelector("[data-no-signal]");
  if (!box) {
    box = document.createElement("p");
    box.className = "notice notice-caution";
    box.dataset.noSignal = "";
    box.setAttribute("role", "status");
    const actions = form.querySelector(".actions");
    if (actions) actions.before(box);
    else form.append(box);
  }
  box.textContent = words;
  return box;
}

// Before anybody else hears of it, so that the form is not taken for sent. Forms that keep a draft
// of their own (data-draft) answer for themselves.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (navigator.onLine || form.method !== "post" || "draft" in form.dataset) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  note(form, WORDS).scrollIntoView({ block: "nearest" });
}, { capture: true });

window.addEventListener("online", () => {
  for (const box of document.querySelectorAll("[data-no-signal]")) box.textContent = BACK;
});

// A part of the page that could not be fetched: said beside what was pressed.
document.addEventListener("htmx:sendError", (event) => {
  const form = event.target.closest("form");
  if (form) note(form, WORDS);
});
