// Looking through slabs: short addresses, an open drawer that stays open, focus that is not lost.
// Without this the form is sent by its button and “Show more” leads to the next page.

const wide = window.matchMedia("(min-width: 1100px)");
const drawer = () => document.getElementById("filters-drawer");
let drawerWasOpen = false;
let focusedId = "";

// Browsers that cannot show a closed drawer's content by CSS get it opened where it is a column.
function openWhereItIsAColumn() {
  if (wide.matches && drawer()) drawer().open = true;
}

// Only what was answered goes into the address.
function leaveOutEmptyAnswers(event) {
  const { parameters, elt } = event.detail;
  if (!elt.closest("#browse")) return;
  for (const name of Object.keys(parameters)) {
    if (parameters[name] === "") delete parameters[name];
  }
  if (parameters.sort === "newest") delete parameters.sort;
}

function rememberDrawer(event) {
  if (event.detail.target?.id !== "browse") return;
  drawerWasOpen = Boolean(drawer()?.open);
  focusedId = document.activeElement?.id ?? "";
}

function afterSwap(event) {
  const swapped = event.detail.target?.id;
  if (swapped === "browse") {
    if (drawer() && drawerWasOpen) drawer().open = true;
    openWhereItIsAColumn();
    // Nothing in a closed drawer can take the focus, so it is given back once the drawer is open.
    if (focusedId) document.getElementById(focusedId)?.focus({ preventScroll: true });
  }
}

// “Show more” vanishes when pressed: whoever used the keyboard goes on at the first new slab.
let cardsBefore = 0;
function beforeMore(event) {
  if (event.target.closest("[data-more]")) cardsBefore = document.querySelectorAll(".slab-card").length;
}
function goOnAtFirstNew(event) {
  if (!event.detail.requestConfig?.elt?.matches?.("[data-more]")) return;
  document.querySelectorAll(".slab-card .card-link")[cardsBefore]?.focus({ preventScroll: true });
}

// What is left out is left out of the form at once: who ticks something else before the answer
// comes asks without it, and the later question takes the earlier one's place.
function leaveOutAtOnce(event) {
  const chip = event.target.closest("[data-leave-out]");
  if (!chip || !window.htmx) return;
  for (const field of document.getElementById("filters").elements) {
    if (field.name !== chip.dataset.leaveOut) continue;
    if (field.type !== "checkbox") field.value = "";
    else if (field.value === chip.dataset.value) field.checked = false;
  }
}

// In the drawer the button only closes it: the slabs behind are already the ones asked for.
function showClosesDrawer(event) {
  if (!event.target.closest("[data-show]") || wide.matches || !window.htmx) return;
  event.preventDefault();
  drawer().open = false;
  document.getElementById("results-title")?.scrollIntoView({ block: "start" });
}

// Enter would both change the field and send the form: one question is enough.
function enterAsksOnce(event) {
  if (event.key !== "Enter" || !window.htmx || !event.target.matches?.("#filters input:not([type=checkbox])")) return;
  event.preventDefault();
  event.target.dispatchEvent(new Event("change", { bubbles: true }));
}

document.addEventListener("keydown", enterAsksOnce);
document.addEventListener("htmx:configRequest", leaveOutEmptyAnswers);
document.addEventListener("htmx:beforeRequest", beforeMore);
document.addEventListener("htmx:beforeSwap", rememberDrawer);
document.addEventListener("htmx:afterSwap", afterSwap);
document.addEventListener("htmx:afterSettle", goOnAtFirstNew);
document.addEventListener("htmx:historyRestore", openWhereItIsAColumn);
document.addEventListener("click", showClosesDrawer);
document.addEventListener("click", leaveOutAtOnce);
wide.addEventListener("change", openWhereItIsAColumn);
openWhereItIsAColumn();
