/* Dialogs: one thing asked at a time, in front of the page. A scan goes to the one in front. */

import { button, h } from "./chair_dom.js";

export const open = [];

/* Show a dialog. ``build(close)`` gives what stands in it; ``heard`` takes scans meanwhile. */
export function dialog(title, build, { heard = null, closable = true, kind = "" } = {}) {
  const element = h("dialog", { class: `dialog ${kind}`, "aria-label": title });
  const entry = { element, heard };
  const close = () => {
    const at = open.indexOf(entry);
    if (at >= 0) open.splice(at, 1);
    element.close();
    element.remove();
  };
  const draw = () => {
    const focused = element.contains(document.activeElement);
    const key = document.activeElement?.dataset?.key || "";
    element.replaceChildren(
      h("h2", { tabindex: "-1" }, title),
      ...[build(close, draw)].flat(Infinity).filter(Boolean),
      closable ? h("div", { class: "choices end" },
        button("Back", close, { kind: "quiet", key: "back" })) : "",
    );
    // the focus stays; a digit of a PIN lets it go, so that Enter sends and presses no digit again
    const same = key && !key.startsWith("pin-")
      && element.querySelector(`[data-key="${CSS.escape(key)}"]`);
    if (focused) (same || element.querySelector("h2")).focus();
  };
  entry.draw = draw;
  /* A scan that this dialog has no use for is not swallowed in silence. */
  entry.deaf = () => {
    element.querySelector("[data-deaf]")?.remove();
    element.querySelector("h2").after(h("p", { class: "said ask", role: "alert", "data-deaf": "" },
      "Not taken: answer this first, then scan again."));
  };
  element.addEventListener("cancel", (event) => {
    event.preventDefault();
    if (closable) close();
  });
  draw();
  document.getElementById("dialogs").append(element);
  open.push(entry);
  element.showModal();
  element.querySelector("h2").focus();
  return { close, draw, element };
}

/* Choose one of several big buttons: [[words, value, kind, sub], …]. */
export function choose(title, intro, options, picked, more = {}) {
  return dialog(title, (close) => [
    intro,
    h("div", { class: "choices grid" },
      options.map(([words, value, kind, sub]) =>
        button(words, () => {
          close();
          picked(value);
        }, { kind: kind || "", key: `choose-${value}`, sub }))),
  ], more);
}

/* Type what cannot be scanned. */
export function typeIn(title, words, taken) {
  const field = h("input", { id: "typed-text", autocomplete: "off", maxlength: "64" });
  const form = h("form", { class: "typed" },
    h("label", { for: "typed-text" }, words), field,
    h("button", { class: "primary huge", type: "submit" }, "Take it"));
  const shown = dialog(title, () => form);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const value = field.value.trim();
    if (!value) return;
    shown.close();
    taken(value);
  });
  field.focus();
}

/* Digits on the screen, for gloves; ``done(pin)`` gives a sentence when it was wrong. */
export function pinPad(title, intro, done) {
  let pin = "";
  let wrong = "";
  let busy = false;
  let shown = null;
  const press = (digit) => {
    if (busy || pin.length >= 12) return;
    pin += digit;
    shown.draw();
  };
  const send = async () => {
    if (busy || !pin) return;
    busy = true;
    const given = pin;
    pin = "";
    wrong = (await done(given)) || "";
    busy = false;
    if (!wrong) shown.close();
    else shown.draw();
  };
  const build = (_, draw) => [
    intro,
    h("p", { class: "pin", role: "status" }, pin ? `${"•".repeat(pin.length)}` : "PIN",
      h("span", { class: "unseen" }, `${pin.length} digits`)),
    wrong ? h("p", { class: "said stop", role: "alert" }, wrong) : null,
    h("div", { class: "pad" },
      ["1", "2", "3", "4", "5", "6", "7", "8", "9"].map((digit) =>
        button(digit, () => press(digit), { key: `pin-${digit}` })),
      button("Clear", () => { pin = ""; draw(); }, { kind: "quiet", key: "pin-clear" }),
      button("0", () => press("0"), { key: "pin-0" }),
      button("OK", send, { kind: "primary", key: "pin-ok" })),
  ];
  const heard = (text) => { // a PIN typed on keys, or a badge scanned a second time
    if (/^[0-9]{1,12}$/.test(text)) {
      pin = pin || text;
      send();
    } else {
      pin = "";
      shown.draw();
    }
  };
  shown = dialog(title, build, { heard });
  shown.element.addEventListener("keydown", (event) => {
    if (/^[0-9]$/.test(event.key)) {
      event.preventDefault();
      press(event.key);
    }
    if (event.key === "Enter" && pin && event.target.dataset.key === undefined) send();
  });
  return shown;
}
