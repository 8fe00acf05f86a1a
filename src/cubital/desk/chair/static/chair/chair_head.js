/* The head of the page: who, where, whether everything is at the desk; and the clocks. */

import { button, clock, h, icon, WORDS } from "./chair_dom.js";
import { dialog } from "./chair_dialog.js";
import { openSwitch } from "./chair_people.js";
import { sound } from "./chair_sound.js";

const counted = (n, one) => `${n} ${one}${n === 1 ? "" : "s"}`;

function syncWords({ waiting, state }) {
  if (state === "sent" && !waiting) return ["good", "All sent"];
  if (state === "cut") {
    return ["ask", waiting ? `Network cut: kept here, ${waiting} waiting` : "Network cut: working from this device"];
  }
  if (state === "signed_out") return ["stop", `Kept here, ${waiting} waiting: sign in to send`];
  if (state === "role") return ["ask", `Kept here, ${waiting} waiting for a collector`];
  return ["note", `Sending, ${waiting} waiting`];
}

export function head(app) {
  const [kind, words] = syncWords(app.sync);
  return [
    h("a", { href: "/", class: "brand" }, h("strong", {}, "cubital"), " chair"),
    h("p", { class: "where" },
      h("strong", {}, app.round ? app.round.place.name : ""),
      app.me.name ? h("span", {}, app.me.name) : null),
    h("p", { class: `sync ${kind}`, role: "status", id: "sync" }, icon(kind), h("span", {}, words)),
    h("div", { class: "head-buttons" },
      app.sync.state === "signed_out"
        ? h("a", { class: "button", href: "/sign-in/?next=/chair/" }, "Sign in") : null,
      app.round
        ? button("Something went wrong", () => app.openMishaps(), { kind: "danger", key: "mishap" })
        : null,
      app.round ? button("Lock", () => app.lock(), { key: "lock" }) : null,
      button("More", () => more(app), { key: "more" })),
  ];
}

/* Short lines under the head: what the person must know about this device. */
export function notices(app) {
  const found = [];
  if (!window.isSecureContext || !("serviceWorker" in navigator)) {
    found.push("Without HTTPS this device cannot keep the page: with the network cut it keeps only"
      + " what is typed while the page stays open. Do not close or reload it then.");
  }
  const skew = app.round ? app.round.limits.skew_s : 60;
  if (app.ahead !== null && Math.abs(app.ahead) > skew * 1000) {
    const way = app.ahead > 0 ? "ahead of" : "behind";
    found.push(`The clock of this device is ${clock(Math.abs(app.ahead) / 1000)} min ${way} the desk’s:`
      + " set it, or times in the record are wrong and events may be refused.");
  }
  if (app.round && app.round.day !== today()) {
    found.push(`This round is of ${app.round.day}, not of today: load it anew.`);
  }
  const lines = found.map((words) => h("p", { class: "notice" }, icon("ask"), h("span", {}, words)));
  if (app.sync.refused) {
    lines.push(h("p", { class: "notice stop" }, icon("stop"),
      h("span", {}, `${counted(app.sync.refused, "event")} refused by the desk; kept here.`),
      button("Look", () => app.openRefused(), { key: "refused" })));
  }
  return lines;
}

function today() {
  const now = new Date();
  const two = (n) => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

function more(app) {
  const toggle = (words, name, draw) =>
    button(`${words}: ${app.me[name] ? "on" : "off"}`,
      () => app.act(async () => {
        await app.habit({ [name]: !app.me[name] });
        draw();
      }), { key: name, "aria-pressed": String(app.me[name]) });
  dialog("More", (close, draw) => [
    h("div", { class: "choices grid" },
      toggle("Reminders", "reminders", draw),
      toggle("Sounds", "sounds", draw),
      button("Switch person", () => { close(); openSwitch(app); }, { key: "switch" }),
      h("a", { class: "button", href: "/" }, "To the desk"),
      h("a", { class: "button", href: "/pin/" }, "Your PIN")),
    h("p", { class: "small" }, `This device is ${app.device}.`),
    h("p", { class: "small" }, "cubital supports trained people and replaces no training, no local"
      + " policy and no licensed judgement."),
  ]);
}

/* What was just said: a wrong scan in words, colour and with an icon. */
export function message(app) {
  const { message: finding } = app;
  if (!finding) return [];
  const kind = finding.severity;
  return [
    h("div", { class: `message ${kind}`, role: kind === "good" ? "status" : "alert" },
      icon(kind),
      h("p", {}, h("strong", {}, `${WORDS[kind]} `), finding.sentence)),
  ];
}

/* The tourniquet's clock: warns before the limit, and says when it is over. */
export function keepTime(app) {
  const box = document.querySelector("[data-timer]");
  if (!box) {
    app.warned = "";
    return;
  }
  const seconds = (Date.now() - Number(box.dataset.since)) / 1000;
  const limit = Number(box.dataset.limit);
  const warn = limit - Number(box.dataset.warn);
  box.querySelector(".timer-time").textContent = clock(seconds);
  const stage = seconds >= limit ? "over" : seconds >= warn ? "soon" : "fine";
  box.classList.toggle("over", stage === "over");
  box.classList.toggle("soon", stage === "soon");
  if (app.warned === `${stage} ${box.dataset.since}` || stage === "fine") return;
  app.warned = `${stage} ${box.dataset.since}`;
  box.querySelector(".timer-words").textContent = stage === "over"
    ? `Too long: over ${clock(limit)}. Tourniquet off.`
    : `Tourniquet off soon: at most ${clock(limit)}.`;
  sound("time", app.me.sounds);
}
