// While a picture is sent and read: how much of it has gone, and how far the reading is, by how
// long it took the last time.

const USUAL = "waneyard-usual:";
const BEGUN = "waneyard-begun";
const LONG_MS = 1000;
const MOST_MS = 120000;
const NEARLY = 0.95;

const store = {
  read(where, key) {
    try { return JSON.parse(where.getItem(key)); } catch { return null; }
  },
  write(where, key, value) {
    try { where.setItem(key, JSON.stringify(value)); } catch { /* full or shut */ }
  },
};

// The page that came of it tells how long it took, from the press to its last byte.
function learn() {
  const begun = store.read(window.sessionStorage, BEGUN);
  window.sessionStorage.removeItem(BEGUN);
  const [way] = performance.getEntriesByType("navigation");
  if (begun && way?.type === "navigate" && Date.now() - begun.at < MOST_MS) {
    store.write(window.localStorage, USUAL + begun.what, way.responseEnd - way.startTime);
  }
}

class Waiting {
  constructor(form) {
    this.words = form.querySelector("[data-busy-words]");
    this.what = form.dataset.busy;
  }

  say(words) {
    if (!this.words) return;
    const text = document.createElement("span");
    text.textContent = words;
    this.words.replaceChildren(text);
    this.words.classList.add("is-busy");
  }

  bar() {
    const bar = document.createElement("progress");
    bar.max = 1;
    bar.value = 0;
    bar.setAttribute("aria-label", "How far it is");
    this.words?.append(bar);
    this.words?.classList.remove("is-busy");
    return bar;
  }

  // The server works on it: the bar runs as long as it took the last time.
  working() {
    this.say(this.what);
    const at = Date.now();
    store.write(window.sessionStorage, BEGUN, { at, what: this.what });
    const usual = store.read(window.localStorage, USUAL + this.what);
    if (!(usual > LONG_MS)) return;
    const bar = this.bar();
    this.timer = window.setInterval(() => {
      bar.value = Math.min(NEARLY, (Date.now() - at) / usual);
    }, 100);
  }

  sending() {
    this.say("Sending the picture…");
    return this.bar();
  }

  over(words = "") {
    window.clearInterval(this.timer);
    this.words?.classList.remove("is-busy");
    if (this.words) this.words.textContent = words;
  }
}

// A form with a picture in it is sent from here, to see how much of it has gone.
function send(form) {
  const waiting = new Waiting(form);
  const bar = waiting.sending();
  const request = new XMLHttpRequest();
  form.setAttribute("aria-busy", "true");
  request.open("POST", form.action);
  request.upload.addEventListener("progress", (event) => {
    if (event.lengthComputable) bar.value = event.loaded / event.total;
  });
  let sentAt = Date.now();
  request.upload.addEventListener("load", () => {
    sentAt = Date.now();
    waiting.working();
  });
  request.addEventListener("load", () => {
    store.write(window.localStorage, USUAL + waiting.what, Date.now() - sentAt);
    window.sessionStorage.removeItem(BEGUN);
    if (request.status < 400) window.location.assign(request.responseURL);
    else show(request, form);
  });
  request.addEventListener("error", () => {
    form.removeAttribute("aria-busy");
    delete form.dataset.sent;
    waiting.over("It did not get through: is there a signal? Nothing is lost, send it again.");
  });
  request.send(new FormData(form));
}

// The page as the server refused it, put in place of this one.
function show(request, form) {
  const drawn = new DOMParser().parseFromString(request.responseText, "text/html").querySelector("#content");
  if (!drawn) {
    new Waiting(form).over("It could not be taken. Reload the page, and add the picture again.");
    form.removeAttribute("aria-busy");
    return;
  }
  document.querySelector("#content").replaceWith(document.adoptNode(drawn));
  (drawn.querySelector(".field-wrong input") ?? drawn).focus();
  drawn.querySelector(".field-wrong, .notice-wrong")?.scrollIntoView({ block: "center" });
}

function onSubmit(event) {
  const form = event.target.closest("form[data-busy]");
  if (!form || event.defaultPrevented) return;
  const files = [...form.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
  if (!files.length) {
    new Waiting(form).working();
    return;
  }
  event.preventDefault();
  if (!form.hasAttribute("aria-busy")) send(form);
}

// As a module of a page: once for all its forms.
export function listenToForms() {
  learn();
  document.addEventListener("submit", onSubmit);
  window.addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    for (const form of document.querySelectorAll("form[data-busy]")) {
      form.removeAttribute("aria-busy");
      delete form.dataset.sent;
      new Waiting(form).over();
    }
  });
}
