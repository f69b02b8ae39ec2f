// A button marked data-print prints the page; without this file it stays hidden.

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
