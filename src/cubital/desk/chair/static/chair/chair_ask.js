/* Short questions on the way: site and device, reasons, a tube that asks, what was refused. */

import { button, h, icon, said } from "./chair_dom.js";
import { choose, dialog } from "./chair_dialog.js";

export const WHY_ON = [
  "It is on the needle already",
  "New needle, nothing carried over",
  "Only this one is on hand",
];
const WHY_MISSED = ["Short of blood", "Vein gave no more", "Patient wants no more", "No such tube here"];
const WHY_UNPREPARED = ["The requester knows and wants it", "Urgent"];

/* A tube that comes too early or too late: put it aside, or go on with a reason. */
export function askTube(app, scan, goOn) {
  dialog("Not yet", (close) => [
    h("ul", { class: "findings" }, scan.findings.map((f) => said(f, app.round.sources))),
    h("div", { class: "choices" },
      button("Put it aside", close, { kind: "primary huge", key: "aside" })),
    h("h3", {}, "Go on all the same, because"),
    h("div", { class: "choices grid" }, WHY_ON.map((reason) =>
      button(reason, () => { close(); goOn(reason); }, { key: reason }))),
  ], { closable: false });
}

export function whyMissed(app, finding, taken) {
  choose("Why is it not drawn?", h("p", {}, finding.sentence),
    WHY_MISSED.map((words) => [words, words]), taken);
}

/* The preparation is not so, or not known, and a rule asks. */
export function unprepared(app, asked, taken) {
  choose("Not so, or not known", h("p", { class: "answer" }, asked.sentence), [
    ["Leave these tests out", "leave", "primary"],
    ...WHY_UNPREPARED.map((words) => [words, words]),
  ], taken, { closable: false });
}

/* The needle gave nothing, or nothing more. */
export function failed(app, taken) {
  const some = app.draw.state.drawn.some((d) => d.fill !== "none");
  const reasons = app.round.cards.not_obtained.filter(
    (r) => r.new_attempt || ["refused", "unwell"].includes(r.code),
  );
  choose(some ? "No more blood: needle and tourniquet out. Why?" : "No blood: needle and tourniquet out. Why?",
    null, reasons.map((r) => [r.name, r.code]),
    (code) => taken(reasons.find((r) => r.code === code)), { kind: "wide" });
}

export function notObtained(app, taken) {
  choose("Nothing is drawn. Why?", null,
    app.round.cards.not_obtained
      .filter((r) => r.code !== "identity_mismatch")
      .map((r) => [r.name, r.code]), taken, { kind: "wide" });
}

/* Another site, side, device or gauge, as far as the plan allows them. */
export function change(app, taken) {
  const { draw } = app;
  const site = () => choose("Where", shut(draw),
    draw.show.sites.map((each, at) => [
      [each.side, each.name].filter(Boolean).join(" "), at, "",
      each.by_order ? "only on a doctor’s order" : each.caution,
    ]), (at) => taken({ site: draw.show.sites[at] }), { kind: "wide" });
  const device = () => choose("With what", null,
    draw.show.devices.map((each) => [each.name, each.code]), (code) => gauge(code));
  const gauge = (code) => {
    if (!draw.gauge) {
      taken({ device: code, gauge: 0 });
      return;
    }
    choose("Which gauge", null,
      draw.show.gauges.map(([size, hub]) => [`${size} G`, size, "", hub]),
      (size) => taken({ device: code, gauge: size }), { kind: "wide" });
  };
  choose("Change", null, [["Where", "site"], ["With what", "device"]],
    (what) => (what === "site" ? site() : device()));
}

function shut(draw) {
  if (!draw.show.shut.length) return null;
  return h("ul", { class: "findings" }, draw.show.shut.map((sentence) =>
    h("li", { class: "said stop" }, icon("stop"), h("p", {}, sentence))));
}

/* Several requisitions of one patient. */
export function which(app, draws, taken) {
  choose("Which requisition?", null,
    draws.map((each) => [`${each.at}, ${each.sheet.tubes.length} tubes`, each.requisition, "", each.requisition]),
    taken);
}

/* Events that the desk refused: nothing is thrown away, and each says why. */
export async function refused(app) {
  const some = await app.store.all("refused");
  some.sort((a, b) => (a.id < b.id ? -1 : 1));
  dialog("Refused by the desk", (close) => [
    h("p", {}, "They are kept here. Mend what the sentence says, then send them again."),
    h("ul", { class: "findings" }, some.map((each) =>
      h("li", { class: "said stop" }, icon("stop"),
        h("div", {}, h("p", {}, each.sentence),
          h("p", { class: "small" }, `${each.event.kind.replaceAll("_", " ")}, ${each.event.happened_at}`))))),
    h("div", { class: "choices" },
      button("Send them again", () => { close(); app.act(() => app.sendAgain()); },
        { kind: "primary huge", key: "again" })),
  ], { kind: "wide" });
}
