// Pictures: each file sent by itself with its own progress, dropped or chosen; rows moved by hand.
// Without this file the form sends all at once and the arrows move the rows.

const form = document.querySelector("form[data-upload]");
document.documentElement.classList.add("has-script");

function part(tag, className, words = "") {
  const element = document.createElement(tag);
  element.className = className;
  element.textContent = words;
  return element;
}

function rowFor(file) {
  const row = part("li", "upload-row");
  const progress = document.createElement("progress");
  progress.max = 1;
  progress.value = 0;
  progress.setAttribute("aria-label", `How far ${file.name} is`);
  row.append(part("span", "upload-name", file.name), progress);
  return { row, progress };
}

function say(row, words, className) {
  row.querySelector("progress")?.remove();
  row.append(part("span", className, words));
}

// The page's list as the server drew it, put in place of the one shown.
function showList(html) {
  const drawn = new DOMParser().parseFromString(html, "text/html").querySelector("#photos");
  if (!drawn) return null;
  const why = drawn.querySelector(".taken-why")?.textContent ?? "";
  drawn.querySelector(".taken")?.remove();
  document.querySelector("#photos").replaceWith(drawn);
  window.htmx?.process(drawn);
  return why;
}

function send(file, progress) {
  return new Promise((resolve) => {
    const data = new FormData();
    data.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
    data.append("role", form.elements.role.value);
    data.append("files", file, file.name);
    const request = new XMLHttpRequest();
    request.open("POST", form.action || window.location.href);
    request.setRequestHeader("HX-Request", "true");
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) progress.value = event.loaded / event.total;
    });
    request.addEventListener("load", () => resolve(request));
    request.addEventListener("error", () => resolve(null));
    request.send(data);
  });
}

async function upload(file, list) {
  const { row, progress } = rowFor(file);
  list.append(row);
  const answer = await send(file, progress);
  const why = answer && showList(answer.responseText);
  if (answer === null) say(row, "It did not get through: is there a connection? Add it again.", "taken-why");
  else if (why === null) say(row, "It was not taken: sign in again, then add it.", "taken-why");
  else if (why) say(row, why, "taken-why");
  else say(row, "Added", "state state-condition-ready");
}

// One after another: the order they were chosen in is the order they stand in.
async function uploadAll(files) {
  const list = form.querySelector("[data-uploads]");
  list.hidden = false;
  form.setAttribute("aria-busy", "true");
  for (const file of files) await upload(file, list);
  form.removeAttribute("aria-busy");
  for (const input of form.querySelectorAll("input[type=file]")) input.value = "";
}

function chosen() {
  return [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
}

function listenToForm() {
  form.addEventListener("submit", (event) => {
    const files = chosen();
    if (!files.length) return;
    event.preventDefault();
    if (!form.hasAttribute("aria-busy")) uploadAll(files);
  });
  form.querySelector("[data-drop]").hidden = false;
  form.addEventListener("dragover", (event) => {
    event.preventDefault();
    form.classList.add("is-over");
  });
  form.addEventListener("dragleave", () => form.classList.remove("is-over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("is-over");
    uploadAll([...event.dataTransfer.files]);
  });
  form.querySelector("#id_take").addEventListener("change", (event) => uploadAll([...event.target.files]));
}

// Rows taken by the mouse; the arrows stay for fingers and keys.
let moving = null;

function rowUnder(event) {
  return event.target.closest?.(".photo-row");
}

function keepOrder(list) {
  const order = [...list.querySelectorAll(".photo-row")].map((row) => row.dataset.photo);
  window.htmx?.ajax("POST", list.dataset.order, { target: "#photos", swap: "outerHTML", values: { order } });
}

function listenToRows() {
  document.addEventListener("pointerover", (event) => {
    const row = rowUnder(event);
    if (row && event.pointerType === "mouse") row.draggable = true;
  });
  document.addEventListener("dragstart", (event) => {
    moving = rowUnder(event);
    moving?.classList.add("is-moving");
  });
  document.addEventListener("dragover", (event) => {
    const row = moving && rowUnder(event);
    if (!row || row === moving) return;
    event.preventDefault();
    const box = row.getBoundingClientRect();
    row[event.clientY < box.top + box.height / 2 ? "before" : "after"](moving);
  });
  document.addEventListener("dragend", () => {
    if (!moving) return;
    moving.classList.remove("is-moving");
    keepOrder(moving.closest("[data-order]"));
    moving = null;
  });
}

if (form) {
  listenToForm();
  listenToRows();
}
