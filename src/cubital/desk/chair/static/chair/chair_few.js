/* Fewer identifiers are known than the policy asks for, or the patient cannot say them: why, and
   what stands in for them.

   The sheet says which reasons there are and which checks must be made; an identifier that does not
   agree stops the draw here as everywhere. */

import { button, h, said } from "./chair_dom.js";
import { typeIn } from "./chair_dialog.js";
import { lacks } from "./chair_judge.js";

const finding = (sheet) => (lacks(sheet) ? "identifier-missing" : "identifiers-read");
const CHECKED = { wristband: () => "wristband read", second_person: (who) => `second person ${who}` };

/* The reason that was given, null when none was or none is needed. */
export const fewReason = (draw) =>
  (draw.sheet.few && draw.sheet.few.reasons.find((r) => r.code === draw.ui.few)) || null;

/* Whether the identifiers are read on the wristband, for the patient cannot say them. */
export const reads = (draw) => Boolean(fewReason(draw)?.reads);

const openCheck = (draw) => draw.sheet.few.checks.find((c) => !draw.state.confirmed.includes(c));

export function fewPanel(app, { panel, rows }) {
  const { draw } = app;
  const lacking = lacks(draw.sheet);
  return panel("few", lacking ? "Fewer identifiers than usual" : "The patient cannot say it",
    h("ul", { class: "findings" }, said(draw.sheet.said.fixed.few, app.round.sources)),
    h("div", { class: "choices grid" }, draw.sheet.few.reasons.map((reason) =>
      button(reason.name, () => app.act(() => draw.remember({ few: reason.code, fewOpen: false })),
        { key: `few-${reason.code}` }))),
    lacking ? null : rows(button("Back: the patient says it",
      () => app.act(() => draw.remember({ fewOpen: false })), { kind: "quiet", key: "few-back" })),
    rows(button("End: nothing is drawn", () => app.openNotObtained(), { kind: "quiet", key: "end" })));
}

export function checkPanel(app, { panel, rows, bigScan, typed }) {
  const { draw } = app;
  const band = openCheck(draw) === "wristband";
  const differs = button("Does not agree",
    () => app.act(() => app.mismatch({ code: openCheck(draw) })),
    { kind: "danger", key: "disagrees" });
  const other = draw.state.few ? null : button("Another reason", () => app.act(() => draw.remember({ few: "" })),
    { kind: "quiet", key: "other-reason" });
  if (band) {
    return panel("few_check", "Read the wristband",
      bigScan("Scan the wristband on the patient", "On the arm or the ankle; not the paper, not the bed."),
      rows(differs, typed(app), other));
  }
  return panel("few_check", "A second person looks too",
    bigScan("Second person: scan your badge", "Compare the wristband with the requisition first."),
    rows(button("Write the name instead", () => typeIn("Second person", "Name of the second person",
      (name) => app.act(() => confirm(app, "second_person", name))), { key: "write-second" }),
    differs, other));
}

/* A scan while a check is open. */
export async function heardCheck(app, scanned) {
  const { draw } = app;
  if (openCheck(draw) === "second_person") {
    const person = app.round.people.find((each) => each.badge === scanned);
    if (person) await confirm(app, "second_person", person.username);
    else app.say({ severity: "stop", sentence: "This badge is not known here. Write the name instead." }, "wrong");
    return;
  }
  if (scanned === draw.sheet.patient) {
    await confirm(app, "wristband", "");
    return;
  }
  const wrong = scanned === draw.sheet.requisition
    ? "That is the requisition. Scan the wristband on the patient."
    : `This is not the wristband of ${draw.sheet.patient}. If the patient wears it, tap “Does not agree”.`;
  app.say({ severity: "stop", sentence: wrong }, "wrong");
}

/* One check is made; with the first goes the reason, with the last the words for the logbook. */
async function confirm(app, check, second) {
  const { draw } = app;
  const reason = fewReason(draw);
  const payload = { identifiers: [check] };
  if (!draw.state.few) payload.reason = reason.code;
  if (second) payload.second = second;
  const event = draw.ofDraw("identity_confirmed", payload);
  const stop = draw.against(event).find((f) => f.severity === "stop");
  if (stop) {
    app.say(stop, "wrong");
    return;
  }
  const made = [...(draw.ui.fewMade || []), CHECKED[check](second)];
  draw.kept.ui.fewMade = made;
  const left = draw.sheet.few.checks.filter((c) => c !== check && !draw.state.confirmed.includes(c));
  const words = `${reason.name}; ${made.join(", ")}`;
  await draw.write(event,
    ...(left.length ? [] : [draw.ofDraw("override_given", { finding: finding(draw.sheet), reason: words })]));
  app.say(null, "good");
}
