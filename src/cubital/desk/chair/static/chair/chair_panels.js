/* The panel of each step of a draw: one heading, one primary action, big targets. */

import { button, clock, h, icon, ml, ORDINALS, said } from "./chair_dom.js";
import { checkPanel, fewPanel, reads } from "./chair_few.js";
import { lacks } from "./chair_judge.js";
import { missed, mustAnswer, openAsks, openQuestion, stops } from "./chair_steps.js";

const panel = (name, title, ...inside) =>
  h("section", { class: `panel step-${name}`, "data-step": name },
    h("h2", { tabindex: "-1" }, title), inside);

const rows = (...buttons) => h("div", { class: "choices" }, buttons);

/* Reminders of a moment for the device in hand; nothing where the person wants none. */
export function reminders(app, moment) {
  if (!app.me.reminders || !app.draw) return null;
  const device = app.draw.deviceCode;
  const { needs } = app.draw.show;
  const some = app.round.cards.reminders[moment].filter(
    (each) => (!each.devices.length || each.devices.includes(device))
      && !(each.unless && needs.includes(each.unless)),
  );
  if (!some.length) return null;
  return h("ul", { class: "reminders", "aria-label": "Reminders" },
    some.map((each) => h("li", {}, each.sentence)));
}

/* What there is to know before the needle: notes of the plan, and who shares a name. */
export function know(app) {
  const { draw } = app;
  const notes = [...draw.sheet.findings, ...draw.show.findings.filter((f) => f.severity === "note")];
  const stopped = draw.show.stopped;
  const asks = draw.show.asked.filter((a) => a.severity === "note" && a.state === "unknown");
  if (!notes.length && !stopped.length && !asks.length) return null;
  return h("section", { class: "panel know", "aria-label": "To know" },
    h("ul", { class: "findings" },
      stopped.length ? said({
        severity: "stop", source: "", sentence: `Not drawn now, not prepared: ${stopped.join(", ")}.`,
      }) : null,
      notes.map((f) => said(f, app.round.sources)),
      asks.map((a) => said({ severity: "note", source: a.source, sentence: a.sentence },
        app.round.sources))));
}

export function bigScan(words, sub) {
  return h("div", { class: "scan-here" },
    h("span", { class: "scan-bars", "aria-hidden": "true" }),
    h("div", {}, h("p", { class: "big" }, words), sub ? h("p", {}, sub) : null));
}

const typed = (app) =>
  button("Type it instead", () => app.openTyped(), { kind: "quiet", key: "typed" });

/* ------------------------------------------------------------------ who it is */

function scanPanel(app) {
  return panel("scan", "Who is it?",
    bigScan("Scan the wristband or the requisition", "Then ask, and let the patient say it."),
    rows(typed(app)));
}

function identityPanel(app) {
  const { draw } = app;
  const question = draw.question;
  const number = draw.sheet.questions.indexOf(question) + 1;
  const band = reads(draw);
  return panel("identity", band ? `Read the ${question.read}` : `Ask: “${question.ask}”`,
    h("p", { class: "small" }, `${number} of ${draw.sheet.questions.length}; ${
      band ? "compare it with this." : "the patient says it."}`),
    h("p", { class: "answer" }, h("bdi", {}, question.answer)),
    draw.sheet.findings.length
      ? h("ul", { class: "findings" }, draw.sheet.findings.map((f) => said(f, app.round.sources)))
      : null,
    h("div", { class: "apart" },
      button("Does not agree", () => app.act(() => app.mismatch(question)),
        { kind: "danger huge", key: "disagrees" }),
      button("Agrees", () => app.act(() => draw.confirm(question)),
        { kind: "primary huge", key: "agrees" })),
    draw.sheet.few && !lacks(draw.sheet) && !draw.ui.few
      ? rows(button("The patient cannot say it", () => app.act(() => draw.remember({ fewOpen: true })),
        { kind: "quiet", key: "cannot-say" }))
      : null);
}

function mismatchPanel(app) {
  return panel("mismatch", "Stop: the identity does not agree",
    h("ul", { class: "findings" }, said(app.draw.sheet.said.fixed.mismatch, app.round.sources)),
    rows(button("End: nothing is drawn", () => app.act(() => app.draw.notObtained("identity_mismatch")),
      { kind: "primary huge", key: "end" })));
}

function barredPanel(app) {
  return panel("barred", "Nothing may be drawn",
    h("ul", { class: "findings" }, app.draw.show.barred.map((f) => said(f, app.round.sources))),
    rows(button("End: nothing is drawn", () => app.openNotObtained(),
      { kind: "primary huge", key: "end" })));
}

/* ------------------------------------------------------------------ before the needle */

function preparationPanel(app) {
  const { draw } = app;
  const { asked, at } = openQuestion(draw);
  const all = mustAnswer(draw);
  const number = all.findIndex((each) => each.at === at) + 1;
  const tests = asked.tests.map((code) => draw.show.names[code]).join(", ");
  return panel("preparation", "Ask about the preparation",
    h("p", { class: "small" }, `${number} of ${all.length}, for ${tests}`),
    h("p", { class: "answer" }, asked.sentence),
    h("div", { class: "apart three" },
      button("No", () => app.prepared(at, "not_met"), { kind: "danger huge", key: "no" }),
      button("Not known", () => app.prepared(at, "unknown"), { kind: "huge", key: "unknown" }),
      button("Yes, it is so", () => app.prepared(at, "met"), { kind: "primary huge", key: "yes" })));
}

function askPanel(app) {
  const findings = openAsks(app.draw);
  return panel("ask", "Before you go on",
    h("ul", { class: "findings" }, findings.map((f) => said(f, app.round.sources))),
    rows(
      button("Seen, go on", () => app.seen(findings), { kind: "primary huge", key: "seen" }),
      button("End: nothing is drawn", () => app.openNotObtained(), { key: "end" })));
}

export function withWhat(app) {
  const { draw } = app;
  const device = draw.show.devices.find((d) => d.code === draw.deviceCode);
  const hub = draw.show.gauges.find(([gauge]) => gauge === draw.gauge);
  const site = draw.site;
  const where = [site.side, site.name].filter(Boolean).join(" ");
  return h("div", { class: "with-what" },
    h("p", {}, h("span", { class: "small" }, "Where "), h("strong", {}, where || "as you choose"),
      site.caution ? h("span", { class: "small" }, ` ${site.caution}`) : null),
    h("p", {}, h("span", { class: "small" }, "With "),
      h("strong", {}, device ? device.name : draw.deviceCode),
      draw.gauge ? `, ${draw.gauge} G` : "", hub ? `, hub ${hub[1]}` : ""),
    button("Change", () => app.openChange(), { kind: "quiet", key: "change" }));
}

/* The tourniquet's own clock; ``app.tick`` keeps it going. */
export function timer(app) {
  const { state, sheet } = app.draw;
  if (state.tourniquetSince === null) return null;
  return h("div", {
    class: "timer", "data-timer": "", "data-since": state.tourniquetSince,
    "data-limit": sheet.tourniquet_limit_s, "data-warn": sheet.policy.tourniquet_warning_s,
  },
  h("p", { class: "timer-time", role: "timer" }, clock((Date.now() - state.tourniquetSince) / 1000)),
  h("p", { class: "timer-words" }, `at most ${clock(sheet.tourniquet_limit_s)}`));
}

function rest(app) {
  const off = [...app.draw.kept.events].reverse().find((e) => e.kind === "tourniquet_off");
  if (!off) return null;
  const left = app.round.limits.pause_s - (Date.now() - Date.parse(off.happened_at)) / 1000;
  return left > 0
    ? h("p", { class: "small" }, `Rest for the arm: put the tourniquet on again in ${clock(left)}.`)
    : null;
}

function needlePanel(app) {
  const { draw } = app;
  const first = draw.due[0];
  const show = draw.show.tubes[first.accession];
  const on = draw.state.tourniquetSince !== null;
  const count = draw.state.attempts.length;
  const without = draw.show.needs.includes("no_tourniquet");
  const wantsTourniquet = draw.venous && !on && !draw.ui.noTourniquet && !without;
  return panel("needle", count ? `${ORDINALS[count] || `No ${count + 1}`} attempt, a new needle` : "Ready for the needle",
    withWhat(app),
    without ? h("p", { class: "big" }, "No tourniquet: a test of this draw does not bear it.") : null,
    reminders(app, on || !draw.venous ? "needle_in" : "before_needle"),
    timer(app),
    wantsTourniquet
      ? [rest(app), button("Tourniquet on", () => app.act(() => draw.tourniquetOn()),
        { kind: "primary huge wide", key: "tourniquet" })]
      : bigScan(`Needle in: scan tube ${first.position}`, `${show.name}, ${show.colour}`),
    rows(
      wantsTourniquet
        ? button("No tourniquet", () => app.act(() => draw.remember({ noTourniquet: true })),
          { kind: "quiet", key: "no-tourniquet" })
        : null,
      on ? button("Tourniquet off", () => app.act(() => draw.tourniquetOff()), { key: "off" }) : null,
      draw.venous && without && !on
        ? button("Tourniquet on all the same", () => app.act(() => draw.tourniquetOn()),
          { kind: "quiet", key: "tourniquet" })
        : null,
      draw.syringe
        ? button("Short in the syringe", () => app.act(() => draw.remember({ shortOpen: true })), { key: "short" })
        : null,
      button("No blood", () => app.openFailed(), { key: "no-blood" }),
      typed(app)));
}

/* ------------------------------------------------------------------ the tubes */

function pendingPart(app) {
  const { draw } = app;
  const pending = draw.pending;
  if (!pending) return null;
  const show = draw.show.tubes[pending.accession];
  const next = draw.due.length ? "The next scan" : "Finish";
  return h("div", { class: "pending" },
    h("p", {}, h("strong", {}, `${show.position}. ${show.name}`),
      ` to ${ml(draw.fillOf(pending.accession))} mL, then ${show.turns || "do not mix"}.`),
    h("p", { class: "small" }, `${next} says: full and mixed.`),
    rows(
      button("Not full", () => app.act(() => draw.remember({ shortOpen: true })), { key: "short" }),
      button("No blood in it", () => app.act(() => draw.fill(pending.accession, "none")),
        { key: "none" })));
}

function tubesPanel(app) {
  const { draw } = app;
  const next = draw.due[0];
  const on = draw.state.tourniquetSince !== null;
  const show = next && draw.show.tubes[next.accession];
  return panel("tubes", next ? `Tube ${next.position} comes next` : "The last tube",
    timer(app),
    on
      ? [reminders(app, "blood_flows"),
        button("Tourniquet off", () => app.act(() => draw.tourniquetOff()),
          { kind: "primary huge wide", key: "tourniquet" })]
      : reminders(app, "filling"),
    next ? bigScan(`Scan tube ${next.position}`, `${show.name}, ${show.colour}`) : null,
    pendingPart(app),
    rows(
      button("No more blood", () => app.openFailed(), { key: "no-blood" }),
      typed(app)));
}

/* ------------------------------------------------------------------ labels and the end */

function labelsPanel(app) {
  const { draw } = app;
  const open = draw.unlabelled;
  const chosen = app.labelFor();
  const show = draw.show.tubes[chosen.accession];
  const printed = open.every((d) => draw.state.labelsPrinted.includes(d.accession));
  return panel("labels", printed ? `Label tube ${show.position}` : "Print the labels",
    h("p", {}, "Needle out; the patient presses. Nobody leaves before every tube has its label."),
    draw.attempt ? reminders(app, "before_out") : null,
    printed
      ? bigScan(`Stick it on tube ${show.position}, then scan the label`, `${show.name}, ${show.colour}`)
      : button("Print labels", () => app.printLabels(), { kind: "primary huge wide", key: "print" }),
    pendingPart(app),
    rows(
      printed ? button("Print again", () => app.printLabels(), { kind: "quiet", key: "print" }) : null,
      typed(app)));
}

function missedPart(app, list) {
  if (!list.length) return null;
  return h("div", {},
    h("h3", {}, "Not drawn"),
    h("ul", { class: "findings" }, list.map(({ finding, reason }) =>
      h("li", { class: "said ask" }, icon("ask"),
        h("div", {},
          h("p", {}, h("strong", {}, "Ask. "), finding.sentence),
          reason
            ? h("p", {}, "Reason: ", h("strong", {}, reason))
            : button("Say why", () => app.openWhyMissed(finding),
              { key: `why-${finding.subject}` }))))));
}

function finishPanel(app) {
  const { draw } = app;
  const list = missed(draw);
  const open = stops(draw).filter((f) => f.code !== "nothing-drawn");
  const unsaid = list.filter(({ reason }) => !reason);
  const ready = !open.length && !unsaid.length && draw.state.drawn.length;
  return panel("finish", "Finish",
    draw.attempt ? reminders(app, "before_out") : null,
    open.length
      ? h("ul", { class: "findings" }, open.map((f) => said(f, app.round.sources)))
      : null,
    missedPart(app, list),
    pendingPart(app),
    ready
      ? button("Finish", () => app.finish(list), { kind: "primary huge wide", key: "finish" })
      : null,
    rows(
      draw.unlabelled.length ? button("Print labels", () => app.printLabels(), { key: "print" }) : null,
      draw.state.drawn.length ? null
        : button("End: nothing is drawn", () => app.openNotObtained(), { key: "end" }),
      typed(app)));
}

function nothingPanel(app) {
  const known = Object.values(app.draw.ui.reasons || {})[0];
  return panel("nothing", "No tube is left to draw",
    known ? h("p", {}, `Reason: ${known}.`) : null,
    rows(button("End: nothing is drawn", () => app.openNotObtained(),
      { kind: "primary huge", key: "end" })));
}

function handOverPanel(app) {
  const { draw } = app;
  return panel("hand_over", "Hand over",
    h("ul", { class: "findings" },
      said(draw.sheet.said.fixed.attempts_used_up, app.round.sources)),
    rows(
      button("Hand over to another collector", () => app.openHandOver("attempts_used_up"),
        { kind: "primary huge", key: "hand-over" }),
      draw.state.drawn.length
        ? button("Finish with what there is",
          () => app.act(() => draw.leaveOut(draw.due.map((t) => t.accession), "Attempts used up")),
          { key: "leave" })
        : button("End: nothing is drawn", () => app.openNotObtained("policy_reached"),
          { key: "end" })));
}

function endedPanel(app) {
  const { draw } = app;
  const { state } = draw;
  const good = state.ended === "finished";
  const bottles = state.drawn.filter((d) => d.fill !== "none").length;
  const found = state.findings.filter((f) => f.severity !== "ask");
  return panel("ended", good ? "Done" : "Ended: nothing was drawn",
    h("p", { class: "big" }, good
      ? `${bottles} ${bottles === 1 ? "tube" : "tubes"}, ${state.attempts.length} ${state.attempts.length === 1 ? "needle" : "needles"}.`
      : `${state.attempts.length} ${state.attempts.length === 1 ? "needle was" : "needles were"} used.`),
    state.attempts.length ? reminders(app, "after") : null,
    found.length ? h("ul", { class: "findings" }, found.map((f) => said(f, app.round.sources))) : null,
    rows(button("Next patient", () => app.toRound(), { kind: "primary huge", key: "next" })));
}

export const PANELS = {
  scan: scanPanel,
  few: (app) => fewPanel(app, { panel, rows }),
  few_check: (app) => checkPanel(app, { panel, rows, bigScan, typed }),
  identity: identityPanel,
  mismatch: mismatchPanel,
  barred: barredPanel,
  preparation: preparationPanel,
  ask: askPanel,
  needle: needlePanel,
  tubes: tubesPanel,
  labels: labelsPanel,
  finish: finishPanel,
  nothing: nothingPanel,
  hand_over: handOverPanel,
  ended: endedPanel,
};
