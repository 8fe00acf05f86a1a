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

/* Enter in a search box takes the first answer and never sends the whole form half filled:
   a scanner ends every scan with Enter. */
document.addEventListener("keydown", (event) => {
  const box = event.target.closest("[data-search]");
  if (!box || event.key !== "Enter") return;
  event.preventDefault();
  box.dispatchEvent(new CustomEvent("take", { bubbles: true }));
});

/* After something was taken, the search box is empty and ready for the next scan. */
document.body.addEventListener("emptied", (event) => {
  const box = document.getElementById(event.detail.value);
  if (!box) return;
  box.value = "";
  const list = document.getElementById(box.getAttribute("aria-controls"));
  if (list) list.replaceChildren();
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
