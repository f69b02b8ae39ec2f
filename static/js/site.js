// What every page gains from JavaScript; all of it works without.

import "./signal.js";

// What the page's head and the buttons at a phone's foot may cover.
const UNDER_HEAD_PX = 70;
const OVER_FOOT_PX = 150;

// Focus the first field that is wrong, so that the person lands where the question is: on its tick
// box where it has one, and with its sentence in sight even under a long list.
function focusFirstWrong(root = document) {
  const field = root.querySelector(".field-wrong");
  const wrong = field?.querySelector(".keep input") ?? root.querySelector(".field-wrong input, .field-wrong select, .field-wrong textarea");
  if (!wrong) return;
  wrong.focus({ preventScroll: false });
  const said = field.querySelector(".errorlist");
  const place = said?.getBoundingClientRect();
  if (place && (place.top < UNDER_HEAD_PX || place.bottom > window.innerHeight - OVER_FOOT_PX)) said.scrollIntoView({ block: "center" });
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
