// What every page gains from JavaScript; all of it works without.

import "./signal.js";

// Focus the first field that is wrong, so that the person lands where the question is.
function focusFirstWrong(root = document) {
  const wrong = root.querySelector(".field-wrong input, .field-wrong select, .field-wrong textarea");
  if (wrong) wrong.focus({ preventScroll: false });
}

// Forms marked data-once are sent once, however often the button is tapped: what takes long
// (data-busy) is waited for longer.
function sendOnce(event) {
  const form = event.target.closest("form[data-once]");
  if (!form) return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
  window.setTimeout(() => delete form.dataset.sent, form.dataset.busy ? 60000 : 4000);
}

// An open menu closes when the person taps elsewhere or presses Escape.
function closeMenus(event) {
  for (const menu of document.querySelectorAll("details[data-closes][open]")) {
    if (event.key === "Escape" || (event.type === "click" && !menu.contains(event.target))) menu.open = false;
  }
}

// A page brought back by the Back button, or left open in another tab, may be of somebody who has
// signed out, or of the house while the client view is on: then it is covered and asked for anew.
function askAnewIfAnothers() {
  const seenBy = document.body.dataset.seenBy;
  if (!seenBy || document.cookie.split("; ").includes(`seen_by=${seenBy}`)) return;
  document.documentElement.hidden = true;
  window.location.reload();
}

window.addEventListener("pageshow", (event) => {
  if (event.persisted) askAnewIfAnothers();
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") askAnewIfAnothers();
});
document.addEventListener("click", closeMenus);
document.addEventListener("keydown", closeMenus);
document.addEventListener("submit", sendOnce);
document.addEventListener("htmx:afterSwap", (event) => focusFirstWrong(event.target));
focusFirstWrong();
