/* Small helps of the desk; every page works without them. */
"use strict";

/* Keys: arrow down leaves a search box for its answers, arrows walk them, Escape goes back. */
function answersOf(box) {
  const list = document.getElementById(box.getAttribute("aria-controls"));
  return list ? Array.from(list.querySelectorAll("button, a")) : [];
}

document.addEventListener("keydown", (event) => {
  const box = event.target.closest("[data-search]");
  if (box && event.key === "ArrowDown") {
    const first = answersOf(box)[0];
    if (first) {
      event.preventDefault();
      first.focus();
    }
    return;
  }
  const list = event.target.closest("[data-answers]");
  if (!list || !["ArrowDown", "ArrowUp", "Escape"].includes(event.key)) return;
  event.preventDefault();
  const all = Array.from(list.querySelectorAll("button, a"));
  const here = all.indexOf(event.target);
  const search = document.querySelector(`[aria-controls="${list.id}"]`);
  if (event.key === "Escape" || (event.key === "ArrowUp" && here === 0)) search.focus();
  else all[Math.min(all.length - 1, here + (event.key === "ArrowDown" ? 1 : -1))].focus();
});

/* Enter in a search box takes the first answer and never sends the whole form half filled: a
   scanner ends every scan with Enter.  The box is empty at once and each scan is an errand of its
   own, so that a second scan may come before the first is answered and neither is lost; where only
   one answer can count, the box says so (data-sync) and a later errand calls the earlier off. */
document.addEventListener("keydown", (event) => {
  const box = event.target.closest("[data-take]");
  if (!box || event.key !== "Enter") return;
  event.preventDefault();
  const text = box.value.trim();
  if (!text) return;
  box.value = "";
  const list = document.getElementById(box.getAttribute("aria-controls"));
  list.replaceChildren();
  const errand = document.createElement("span");
  errand.hidden = true;
  errand.dataset.errand = "";
  const said = {
    "hx-get": box.dataset.take,
    "hx-vals": JSON.stringify({ q: text }),
    "hx-params": box.dataset.params || "*",
    "hx-include": box.dataset.include || "",
    "hx-target": box.dataset.target,
    "hx-swap": box.dataset.swap || "innerHTML",
    "hx-sync": box.dataset.sync || "",
    "hx-trigger": "load",
  };
  for (const [name, value] of Object.entries(said)) if (value) errand.setAttribute(name, value);
  box.after(errand);
  htmx.process(errand);
});

document.addEventListener("htmx:afterRequest", (event) => {
  if ("errand" in event.target.dataset) event.target.remove();
});

/* Answers for what one has typed are of no use once the box was emptied. */
document.addEventListener("htmx:beforeSwap", (event) => {
  const box = event.detail.requestConfig.elt;
  if (box.matches("[data-search]") && box.value.trim() === "") event.detail.shouldSwap = false;
});

/* The answer says where the next word is typed; whoever has gone on by then is left in peace. */
document.addEventListener("go", (event) => {
  const box = document.getElementById(event.detail.value);
  const here = document.activeElement;
  if (!box || (here !== document.body && here !== event.target)) return;
  if (here === event.target && box.matches("[data-search]")) {
    box.value = "";
    document.getElementById(box.getAttribute("aria-controls")).replaceChildren();
  }
  box.focus();
});

/* A row taken off a list; the focus goes where the next word is typed. */
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-remove]");
  if (button) {
    const list = button.closest("[data-list]");
    button.closest("li").remove();
    const box = document.getElementById(list.dataset.list);
    if (box) box.focus();
    list.dispatchEvent(new CustomEvent("changed", { bubbles: true }));
  }
  if (event.target.closest("[data-print]")) window.print();
});

/* A second click on a button that sends is not a second form. */
const SENT_MS = 8000;
const WINDOW_MS = 1500; // a form that opens a window of its own leaves its page usable

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  setTimeout(() => delete form.dataset.sent, form.target === "_blank" ? WINDOW_MS : SENT_MS);
  if ("careful" in form.dataset) sendCarefully(event, form);
});

window.addEventListener("pageshow", (event) => {
  for (const form of document.querySelectorAll("[data-sent]")) delete form.dataset.sent;
  if (event.persisted) stillHere();
});

/* The Back button may bring a page out of the browser's own store. Somebody who has signed out, a
   locked screen, or the next person at this tablet does not get to see it. */
async function stillHere() {
  const { status, person } = await askHere();
  const another = status === 204 && person !== (document.body.dataset.here || "");
  if (another || [401, 423].includes(status)) location.reload();
}

/* A question that stores nothing; status 204, 401 signed out, 423 locked, 0 no answer. */
async function askHere() {
  try {
    const answer = await fetch("/here/", { headers: { Accept: "application/json" }, cache: "no-store" });
    return { status: answer.status, person: answer.headers.get("X-Here") || "" };
  } catch {
    return { status: 0, person: "" };
  }
}

/* What somebody typed is not lost when the session ended in another tab, the screen is locked, or
   the desk does not answer: a form marked data-careful asks first, and else stays as it is. */
const CAREFUL = {
  401: ["You are signed out. Nothing was sent, and what you typed is still here: sign in in another window, come back, and send it again.", "/sign-in/", "Sign in"],
  423: ["The screen is locked. Nothing was sent, and what you typed is still here: unlock it in another window, come back, and send it again.", "/locked/", "Unlock"],
  0: ["The desk does not answer. Nothing was sent, and what you typed is still here: try again.", "", ""],
};

async function sendCarefully(event, form) {
  event.preventDefault();
  const { submitter } = event;
  const { status } = await askHere();
  delete form.dataset.sent;
  if (status !== 204) {
    stayHere(form, status);
    return;
  }
  const field = form.elements.csrfmiddlewaretoken;
  const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/);
  if (field && token) field.value = token[1]; // another sign-in made a new one
  if (submitter && submitter.name) {
    const pressed = document.createElement("input");
    pressed.type = "hidden";
    pressed.name = submitter.name;
    pressed.value = submitter.value;
    form.append(pressed);
  }
  form.dataset.sent = "yes";
  setTimeout(() => delete form.dataset.sent, SENT_MS);
  HTMLFormElement.prototype.submit.call(form);
}

function stayHere(form, status) {
  const [words, address, link] = CAREFUL[status] || CAREFUL[0];
  const old = form.querySelector("[data-stay]");
  if (old) old.remove();
  const line = document.createElement("p");
  line.className = "said wrong";
  line.dataset.stay = "";
  line.setAttribute("role", "alert");
  line.tabIndex = -1;
  line.append(`${words} `);
  if (address) {
    const way = document.createElement("a");
    way.href = address;
    way.target = "_blank";
    way.textContent = link;
    line.append(way);
  }
  form.prepend(line);
  line.focus();
}

/* A piece of the page that is asked for while signed out must not carry the typed form away. */
document.addEventListener("htmx:beforeOnLoad", (event) => {
  const to = event.detail.xhr.getResponseHeader("HX-Redirect") || "";
  const form = document.querySelector("form[data-careful]");
  if (!form || !/^\/(sign-in|locked)\//.test(to)) return;
  event.preventDefault();
  stayHere(form, to.startsWith("/sign-in/") ? 401 : 423);
});

/* The first error or message is read out and seen. */
const said = document.querySelector("[data-said]");
if (said) said.focus();
