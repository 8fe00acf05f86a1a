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

/* The first error or message is read out and seen. */
const said = document.querySelector("[data-said]");
if (said) said.focus();
