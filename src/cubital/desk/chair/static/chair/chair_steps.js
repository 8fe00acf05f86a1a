/* Which step of a draw comes now: one at a time. */

import { lacks, leftOut, unfinished } from "./chair_judge.js";

/* Demands of the preparation that must be answered: a "no" would stop or ask. */
export const mustAnswer = (draw) =>
  draw.show.asked
    .map((asked, at) => ({ asked, at }))
    .filter(({ asked }) => asked.state === "unknown" && asked.severity !== "note");

export const openQuestion = (draw) =>
  mustAnswer(draw).find(({ at }) => draw.answers()[at] === undefined);

/* What the plan asks, and nobody has answered yet: all of one kind at once. */
export const openAsks = (draw) => {
  const open = draw.show.findings.filter(
    (f) => f.severity === "ask" && !(draw.ui.seen || []).includes(`${f.code} ${f.subject}`),
  );
  return open.filter((f) => f.code === open[0].code);
};

export function step(draw) {
  const { state, show } = draw;
  if (state.ended) return "ended";
  if (state.mismatch) return "mismatch";
  if (!state.scanned) return "scan";
  if (show.barred.length) return "barred";
  if ((lacks(draw.sheet) && !draw.ui.few) || (draw.ui.fewOpen && draw.question)) return "few";
  if (draw.question) return "identity";
  if (!draw.identified) return "few_check";
  if (openQuestion(draw)) return "preparation";
  if (openAsks(draw).length) return "ask";
  if (draw.ui.shortOpen) return "short";
  if (!draw.due.length && !state.drawn.length) return "nothing";
  if (draw.due.length) {
    if (draw.attempt) return "tubes";
    if (draw.attemptsLeft <= 0) return "hand_over";
    return "needle";
  }
  if (state.tourniquetSince !== null) return "tubes";
  if (draw.sheet.policy.labels === "after" && draw.unlabelled.length) return "labels";
  return "finish";
}

/* What stands against finishing now. */
export const stops = (draw) => unfinished(draw.sheet, draw.state);

/* Tubes of the plan that will not be drawn, each with the reason that is already known. */
export function missed(draw) {
  const reasons = draw.ui.reasons || {};
  const stopped = draw.stoppedTests;
  return leftOut(draw.sheet, draw.state).map((finding) => {
    const tube = draw.sheet.tubes.find((t) => t.accession === finding.subject);
    const unprepared = tube.tests.length > 0 && tube.tests.every((t) => stopped.has(t));
    const known = reasons[finding.subject] || (unprepared ? "Patient not prepared" : "");
    return { finding, reason: known };
  });
}
