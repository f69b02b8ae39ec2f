// Ticks for comparing, kept across pages and filters until cleared; four at most.
// Without this the ticks of one page are sent by the bar's button.

const KEPT = "slabs to compare";
const bar = () => document.getElementById("compare");
const most = () => Number(bar().dataset.most);
const fewest = () => Number(bar().dataset.fewest);

function read() {
  try {
    return JSON.parse(sessionStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
}

function keep(chosen) {
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(chosen));
  } catch {
    // A browser that keeps nothing still compares what is ticked on this page.
  }
}

function words(count) {
  if (count === 0) return "Tick two to four slabs to lay them side by side.";
  if (count < fewest()) return "One slab ticked: tick another to lay beside it.";
  return count < most() ? `${count} slabs ticked.` : `${count} slabs ticked: as many as fit.`;
}

function show() {
  if (!bar()) return;
  const chosen = read();
  const count = Object.keys(chosen).length;
  const onPage = new Set();
  for (const box of document.querySelectorAll('input[form="compare"][name="slab"]')) {
    if (box.type !== "checkbox") continue;
    onPage.add(box.value);
    box.checked = box.value in chosen;
    box.disabled = !box.checked && count >= most();
  }
  bar().querySelectorAll("input[type=hidden]").forEach((hidden) => hidden.remove());
  for (const code of Object.keys(chosen).filter((one) => !onPage.has(one))) {
    bar().append(Object.assign(document.createElement("input"), { type: "hidden", name: "slab", value: code }));
  }
  bar().classList.toggle("is-idle", count === 0);
  bar().querySelector("[data-compare-words]").textContent = words(count);
  bar().querySelector("[data-compare-clear]").hidden = count === 0;
  bar().querySelector(".button-main").disabled = count > 0 && count < fewest();
}

function tick(event) {
  const box = event.target;
  if (!box.matches?.('input[type=checkbox][form="compare"]')) return;
  const chosen = read();
  if (box.checked) chosen[box.value] = box.dataset.words;
  else delete chosen[box.value];
  keep(chosen);
  show();
}

function clear(event) {
  if (!event.target.closest("[data-compare-clear]")) return;
  keep({});
  show();
}

// On a slab's own page: compare it with whatever is ticked already.
function compareThis(event) {
  const link = event.target.closest("a[data-compare-this]");
  if (!link) return;
  const chosen = read();
  if (Object.keys(chosen).length < Number(link.dataset.most)) chosen[link.dataset.compareThis] = link.dataset.words;
  keep(chosen);
  const codes = new Set([link.dataset.compareThis, ...Object.keys(chosen)]);
  link.search = new URLSearchParams([...codes].map((code) => ["slab", code]));
}

// On the compare page: what lies side by side is what stays ticked.
function keepWhatIsCompared() {
  const table = document.querySelector("[data-compared]");
  if (!table) return;
  const codes = table.dataset.compared.split(" ").filter(Boolean);
  keep(Object.fromEntries(codes.map((code) => [code, code])));
}

document.addEventListener("click", compareThis);
document.addEventListener("change", tick);
document.addEventListener("click", clear);
document.addEventListener("htmx:afterSwap", show);
document.addEventListener("htmx:historyRestore", show);
window.addEventListener("pageshow", show);
keepWhatIsCompared();
show();
