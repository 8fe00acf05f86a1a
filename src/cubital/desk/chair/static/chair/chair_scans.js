/* What a scan does, step by step; a wrong one is told in words, colour and sound, and recorded. */

import { which, askTube } from "./chair_ask.js";
import { heardCheck } from "./chair_few.js";
import { filled } from "./chair_judge.js";
import { step } from "./chair_steps.js";

const good = (sentence) => ({ severity: "good", sentence });
const hard = (finding) => finding.severity === "stop";

export async function heard(app, text) {
  const scanned = text.trim();
  if (!scanned || !app.round) return;
  if (!app.draw) {
    await inRound(app, scanned);
    return;
  }
  const name = step(app.draw);
  if (name === "scan") await whoIsIt(app, scanned);
  else if (name === "few_check") await heardCheck(app, scanned);
  else if (name === "ended") await afterwards(app, scanned);
  else await inDraw(app, scanned);
}

/* ------------------------------------------------------------------ before a draw */

async function inRound(app, scanned) {
  const open = app.round.draws.filter((d) => d.sheet && !drawnHere(app, d.requisition));
  const of = open.filter((d) => d.sheet.scans.includes(scanned));
  if (of.length > 1) {
    const own = of.find((d) => d.requisition === scanned);
    if (!own) {
      which(app, of, (requisition) => app.act(async () => {
        await app.openDraw(requisition);
        await whoIsIt(app, scanned);
      }));
      return;
    }
  }
  const one = of.find((d) => d.requisition === scanned) || of[0];
  if (one) {
    await app.openDraw(one.requisition);
    await whoIsIt(app, scanned);
    return;
  }
  const byLabel = open.find((d) => d.sheet.tubes.some((t) => t.accession === scanned));
  if (byLabel) {
    await app.openDraw(byLabel.requisition);
    app.say(good("A label is no patient: now scan the wristband or the requisition."), "ask");
    return;
  }
  const refused = app.round.draws.find((d) => d.refused
    && [d.requisition, d.patient].includes(scanned));
  if (refused) {
    app.say({ severity: "stop", sentence: refused.refused }, "wrong");
    return;
  }
  app.say({
    severity: "stop",
    sentence: drawnText(app, scanned) || "Nobody on this round has this code. Load the round anew, or look at it.",
  }, "wrong");
}

const drawnHere = (app, requisition) =>
  app.draws.some((d) => d.requisition === requisition && d.ended === "finished");

function drawnText(app, scanned) {
  const done = app.draws.find((d) => d.ended === "finished" && d.kept.sheet.scans.includes(scanned));
  return done ? `Requisition ${done.requisition} is drawn already.` : "";
}

async function whoIsIt(app, scanned) {
  const { draw } = app;
  const scan = draw.read(scanned);
  if (scan.means === "patient") {
    if (!draw.state.begun) await draw.begin();
    app.say(null, "good");
    return;
  }
  app.say(filled(draw.sheet, draw.sheet.said.fixed.wrong_patient, scanned), "wrong");
}

async function afterwards(app, scanned) {
  await app.toRound();
  await inRound(app, scanned);
}

/* ------------------------------------------------------------------ in a draw */

async function inDraw(app, scanned) {
  const { draw } = app;
  const scan = draw.read(scanned);
  if (scan.means === "patient") {
    app.say(good("The same patient."), "good");
    return;
  }
  if (scan.means === "unknown") {
    await wrong(app, scan, scan.findings[0]);
    return;
  }
  if (scan.means === "label") {
    await label(app, scan);
    return;
  }
  await tube(app, scan);
}

/* Told at once, and kept: which code was scanned, and what was wrong with it. */
async function wrong(app, scan, finding) {
  app.say(finding, "wrong");
  const { draw } = app;
  const kept = finding.code !== "unknown-scan" && !draw.state.ended && !draw.state.mismatch;
  if (draw.state.begun && kept) await draw.refuse(finding, scan);
}

async function tube(app, scan) {
  const { draw } = app;
  const stop = scan.findings.find(hard);
  if (stop) {
    await wrong(app, scan, stop);
    return;
  }
  const { labels } = draw.sheet.policy;
  const byLot = scan.text !== scan.accession;
  if (labels === "before" && byLot) {
    const code = draw.sheet.stock.find((c) => c.code === scan.text);
    await draw.remember({ lot: { lot: code.lot, container: code.container, shown: code.shown } });
    app.say(good(`${code.shown}, lot ${code.lot}: now scan its label.`), "good");
    return;
  }
  const held = draw.ui.lot;
  if (held) await draw.remember({ lot: null });
  const container = held && !byLot ? held.container : undefined;
  const lot = byLot ? scan.lot : held ? held.lot : "";
  const against = stopsTube(draw, scan.accession, { lot, container });
  if (against) {
    await wrong(app, scan, against);
    return;
  }
  const next = { lot, labelled: labels === "before" && !byLot };
  if (scan.findings.length) {
    app.say(scan.findings[0], "ask");
    askTube(app, scan, (reason) => app.act(async () => {
      await draw.takeTube(scan.accession, { ...next, reason, findings: scan.findings });
      taken(app, scan);
    }));
    return;
  }
  await draw.takeTube(scan.accession, next);
  taken(app, scan);
}

function taken(app, scan) {
  const show = app.draw.show.tubes[scan.accession];
  app.say(good(`${show.position}. ${show.name}, ${show.colour}.`), "good");
}

/* Whether anything stops this tube now: no identity, no attempt left, the wrong container. */
function stopsTube(draw, accession, what) {
  if (!draw.attempt) {
    const needle = draw.against(draw.needleIn()).find(hard);
    if (needle) return needle;
    const { container } = what;
    const planned = draw.sheet.tubes.find((t) => t.accession === accession);
    if (!container || container === planned.container) return null;
    const shown = draw.sheet.stock.find((c) => c.container === container);
    return filled(draw.sheet, draw.sheet.said.tubes[accession].wrong_container, shown.shown);
  }
  return draw.against(draw.tubeEvent(accession, what)).find(hard) || null;
}

async function label(app, scan) {
  const { draw } = app;
  const { labels } = draw.sheet.policy;
  const target = labels === "after" ? app.labelFor() : { accession: scan.accession };
  if (!target) {
    await wrong(app, scan, filled(draw.sheet, draw.sheet.said.fixed.not_drawn, scan.accession));
    return;
  }
  const event = draw.ofTube("label_matched", target.accession, { label: scan.accession });
  const stop = draw.against(event).find(hard);
  if (stop) {
    await wrong(app, scan, stop);
    return;
  }
  await draw.matchLabel(target.accession, scan.accession);
  if (draw.ui.labelFor) await draw.remember({ labelFor: "" });
  const show = draw.show.tubes[target.accession];
  app.say(good(`${show.position}. ${show.name}: the label agrees.`), "good");
}
