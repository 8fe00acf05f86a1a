/* What a scan means and what stands against an event, looked up in the sheet.

   This page decides nothing about blood: every sentence was written beforehand by the core
   (sheet.said), and here it is only found.  When the events arrive, the core judges them again; a
   test plays the same random scans to both and compares (docs/decisions/0006). */

export function emptyState() {
  return {
    begun: false, scanned: false, confirmed: [], few: "", mismatch: "", site: "", side: "", device: "",
    gauge: 0, attempts: [], tourniquetSince: null, tourniquetSpans: [], drawn: [],
    labelsPrinted: [], collectors: [], handedTo: "", overridden: [], mishaps: [], findings: [],
    ended: "",
  };
}

/* ------------------------------------------------------------------ small questions */

const STILL = ["draw_not_obtained", "incident_recorded", "override_given"];

export const codeOf = (event) => {
  const [what, ...rest] = event.subject.split(":");
  return what === "specimen" ? rest.join(":") : "";
};
const text = (event, name) => {
  const value = event.payload[name];
  return value === undefined || value === null ? "" : String(value);
};
const whole = (event, name) => (Number.isInteger(event.payload[name]) ? event.payload[name] : 0);
const named = (event) => (Array.isArray(event.payload.identifiers) ? event.payload.identifiers : []);

export const planned = (sheet, accession) => sheet.tubes.find((t) => t.accession === accession);
export const drawnTube = (state, accession) => state.drawn.find((d) => d.accession === accession);
export const openAttempt = (state) => {
  const last = state.attempts[state.attempts.length - 1];
  return last && last.obtained === null ? last : null;
};
export const attemptsOf = (state, who) => state.attempts.filter((a) => a.who === who).length;
/* Whether the record lacks an identifier that policy wants. */
export const lacks = (sheet) => Boolean(sheet.few?.lacking.length);
export const identityComplete = (sheet, state) =>
  state.scanned && sheet.questions.every((q) => state.confirmed.includes(q.code))
    && (!sheet.few || (!lacks(sheet) && state.few === "")
      || (state.few !== "" && sheet.few.checks.every((check) => state.confirmed.includes(check))));

/* Put a text where the sentence left a place for it. */
export function filled(sheet, finding, word) {
  const { blank } = sheet.said;
  return {
    ...finding,
    sentence: finding.sentence.split(blank).join(word),
    subject: finding.subject.split(blank).join(word),
  };
}

/* ------------------------------------------------------------------ scans */

function orderFindings(sheet, state, tube) {
  const said = sheet.said.tubes[tube.accession];
  const done = (t) => Boolean(drawnTube(state, t.accession));
  const later = sheet.tubes.find(
    (t) => t.position > tube.position && done(t) && said.too_late[t.accession],
  );
  if (later) return [said.too_late[later.accession]];
  const earlier = sheet.tubes.find(
    (t) => t.position < tube.position && !done(t) && said.too_early[t.accession],
  );
  return earlier ? [said.too_early[earlier.accession]] : [];
}

function tubeFindings(sheet, state, tube) {
  if (drawnTube(state, tube.accession)) return [sheet.said.tubes[tube.accession].used];
  return orderFindings(sheet, state, tube);
}

function stockScan(sheet, state, scanned, code) {
  const lot = sheet.said.lots[code.code];
  const scan = { means: "tube", text: scanned, accession: "", lot: code.lot, findings: [] };
  if (lot) return { ...scan, findings: [lot] };
  const wanted = sheet.tubes.filter((t) => t.container === code.container);
  const next = sheet.tubes.find((t) => !drawnTube(state, t.accession));
  const said = sheet.said.containers[code.container] || {};
  if (!wanted.length) {
    const wrong = said["wrong-container"];
    const then = next ? sheet.said.now_comes[next.accession] : "";
    return { ...scan, findings: [{ ...wrong, sentence: wrong.sentence + then }] };
  }
  const tube = wanted.find((t) => !drawnTube(state, t.accession));
  if (!tube) return { ...scan, findings: [said["tube-used"]] };
  return { ...scan, accession: tube.accession, findings: orderFindings(sheet, state, tube) };
}

/* Read one scan: {means, text, accession, lot, findings}. */
export function understand(sheet, state, scanned) {
  const read = scanned.trim();
  const scan = { means: "unknown", text: read, accession: "", lot: "", findings: [] };
  if (sheet.scans.includes(read)) return { ...scan, means: "patient" };
  const tube = planned(sheet, read);
  if (tube) {
    const drawn = drawnTube(state, read);
    if (sheet.policy.labels === "after" || (drawn && !drawn.labelled)) {
      return { ...scan, means: "label", accession: read };
    }
    return { ...scan, means: "tube", accession: read, findings: tubeFindings(sheet, state, tube) };
  }
  const other = sheet.others.find(([code]) => code === read);
  if (other) {
    const said = filled(sheet, sheet.said.fixed.other_patient, other[1]);
    return { ...scan, findings: [{ ...said, subject: read }] };
  }
  const code = sheet.stock.find((c) => c.code === read);
  if (code) return stockScan(sheet, state, read, code);
  return { ...scan, findings: [filled(sheet, sheet.said.fixed.unknown_scan, read)] };
}

/* ------------------------------------------------------------------ events */

function judgeIdentity(sheet, state, event) {
  const { fixed } = sheet.said;
  const said = named(event).filter((i) => i !== "scan");
  const checks = sheet.few ? sheet.few.checks : [];
  const unknown = said.find((i) => !sheet.questions.some((q) => q.code === i) && !checks.includes(i));
  if (unknown) return [filled(sheet, fixed.not_asked, unknown)];
  if (said.length && !(state.scanned || event.payload.scanned)) return [fixed.scan_first];
  return judgeFew(sheet, event, said);
}

/* A reason for fewer identifiers, and what stands in for them. */
function judgeFew(sheet, event, said) {
  const { fixed } = sheet.said;
  if (said.includes("second_person")) {
    const second = text(event, "second");
    if (!second.trim()) return [fixed.second_missing];
    if (second === event.who) return [fixed.second_same];
  }
  const reason = text(event, "reason");
  if (!reason) return [];
  const note = (sheet.said.few || {})[reason];
  return [note || filled(sheet, fixed.reason_unknown, reason)];
}

function judgeNeedle(sheet, state, event) {
  const { fixed } = sheet.said;
  if (!identityComplete(sheet, state)) return [fixed.identity_open_needle];
  if (openAttempt(state)) return [fixed.attempt_open];
  if (attemptsOf(state, event.who) >= sheet.policy.attempts) return [fixed.attempts_used_up];
  return [];
}

function judgeTube(sheet, state, event) {
  const { fixed } = sheet.said;
  if (!identityComplete(sheet, state)) return [fixed.identity_open_tube];
  if (!openAttempt(state)) return [fixed.no_needle_in];
  const accession = codeOf(event);
  const tube = planned(sheet, accession);
  if (!tube) return [filled(sheet, fixed.not_in_plan, accession)];
  const taken = text(event, "container");
  if (taken && taken !== tube.container) {
    const shown = sheet.stock.find((c) => c.container === taken);
    return [filled(sheet, sheet.said.tubes[accession].wrong_container, shown ? shown.shown : taken)];
  }
  const lot = sheet.stock.find((c) => c.lot && c.lot === text(event, "lot"));
  const found = lot && sheet.said.lots[lot.code] ? [sheet.said.lots[lot.code]] : [];
  return [...found, ...tubeFindings(sheet, state, tube)];
}

function judgeDrawn(sheet, state, event) {
  const accession = codeOf(event);
  if (drawnTube(state, accession)) return [];
  return [filled(sheet, sheet.said.fixed.not_drawn, accession)];
}

function judgeLabel(sheet, state, event) {
  const found = judgeDrawn(sheet, state, event);
  const label = text(event, "label");
  const accession = codeOf(event);
  if (found.length || label === "" || label === accession) return found;
  return [filled(sheet, sheet.said.tubes[accession].label_mismatch, label)];
}

/* What must be done before the patient goes. */
export function unfinished(sheet, state) {
  const found = [];
  for (const tube of sheet.tubes) {
    const drawn = drawnTube(state, tube.accession);
    if (drawn && drawn.fill !== "none" && !drawn.labelled) {
      found.push(sheet.said.tubes[tube.accession].unlabelled);
    }
  }
  if (state.tourniquetSince !== null) found.push(sheet.said.fixed.tourniquet_on);
  if (!state.drawn.length) found.push(sheet.said.fixed.nothing_drawn);
  return found;
}

/* Tubes of the plan that are not drawn. */
export function leftOut(sheet, state) {
  return sheet.tubes
    .filter((t) => !drawnTube(state, t.accession))
    .map((t) => sheet.said.tubes[t.accession].left_out);
}

function roundHalfEven(value) {
  const low = Math.floor(value);
  const half = value - low;
  if (half !== 0.5) return Math.round(value);
  return low % 2 === 0 ? low : low + 1;
}

function judgeTourniquet(sheet, state, event) {
  if (state.tourniquetSince === null) return [];
  const span = (Date.parse(event.happened_at) - state.tourniquetSince) / 1000;
  if (span <= sheet.tourniquet_limit_s) return [];
  return [filled(sheet, sheet.said.fixed.tourniquet_long, String(roundHalfEven(span)))];
}

const RULES = {
  identity_confirmed: judgeIdentity,
  attempt_begun: judgeNeedle,
  tube_scanned: judgeTube,
  tube_filled: judgeDrawn,
  tube_mixed: judgeDrawn,
  label_matched: judgeLabel,
  draw_finished: (sheet, state) => [...unfinished(sheet, state), ...leftOut(sheet, state)],
  tourniquet_off: judgeTourniquet,
};

/* What stands against an event now. */
export function judge(sheet, state, event) {
  if (state.ended && !STILL.includes(event.kind)) return [sheet.said.fixed.draw_ended];
  if (state.mismatch && !STILL.includes(event.kind)) return [sheet.said.fixed.mismatch];
  const rule = RULES[event.kind];
  return rule ? rule(sheet, state, event) : [];
}

/* ------------------------------------------------------------------ the state, event by event */

const changed = (state, event, fields) => {
  const accession = codeOf(event);
  const drawn = state.drawn.map((d) => (d.accession === accession ? { ...d, ...fields } : d));
  return { ...state, drawn };
};

function endAttempt(state, obtained, reason) {
  const open = openAttempt(state);
  if (!open) return state;
  return { ...state, attempts: [...state.attempts.slice(0, -1), { ...open, obtained, reason }] };
}

const CHANGES = {
  draw_begun: (state) => ({ ...state, begun: true }),
  identity_confirmed: (state, event) => ({
    ...state,
    scanned: state.scanned || Boolean(event.payload.scanned),
    confirmed: [
      ...state.confirmed,
      ...named(event).filter((i) => i !== "scan" && !state.confirmed.includes(i)),
    ],
    few: text(event, "reason") || state.few,
  }),
  identity_mismatch: (state, event) => ({ ...state, mismatch: text(event, "identifier") }),
  site_chosen: (state, event) => ({
    ...state, site: text(event, "body_site"), side: text(event, "side"),
  }),
  device_chosen: (state, event) => ({
    ...state, device: text(event, "device"), gauge: whole(event, "gauge"),
  }),
  tourniquet_on: (state, event) => ({ ...state, tourniquetSince: Date.parse(event.happened_at) }),
  tourniquet_off: (state, event) => {
    if (state.tourniquetSince === null) return state;
    const span = Math.max(Date.parse(event.happened_at) - state.tourniquetSince, 0) / 1000;
    return { ...state, tourniquetSince: null, tourniquetSpans: [...state.tourniquetSpans, span] };
  },
  attempt_begun: (state, event) => ({
    ...state,
    attempts: [
      ...state.attempts,
      {
        code: event.subject.slice(event.subject.indexOf(":") + 1),
        who: event.who,
        site: text(event, "body_site") || state.site,
        side: text(event, "side") || state.side,
        device: text(event, "device") || state.device,
        gauge: whole(event, "gauge") || state.gauge,
        obtained: null,
        reason: "",
      },
    ],
  }),
  attempt_ended: (state, event) =>
    endAttempt(state, Boolean(event.payload.success), text(event, "reason")),
  tube_scanned: (state, event) => ({
    ...state,
    drawn: [
      ...state.drawn,
      {
        accession: codeOf(event), position: whole(event, "position"), lot: text(event, "lot"),
        who: event.who, fill: "full", estimate_ul: 0, mixed: false, labelled: false,
      },
    ],
  }),
  tube_filled: (state, event) =>
    changed(state, event, { fill: text(event, "fill"), estimate_ul: whole(event, "volume_ul") }),
  tube_mixed: (state, event) => changed(state, event, { mixed: true }),
  label_matched: (state, event) => changed(state, event, { labelled: true }),
  label_printed: (state, event) => ({
    ...state, labelsPrinted: [...state.labelsPrinted, codeOf(event)],
  }),
  draw_handed_over: (state, event) => ({ ...state, handedTo: text(event, "to") }),
  override_given: (state, event) => ({
    ...state, overridden: [...state.overridden, text(event, "finding")],
  }),
  incident_recorded: (state, event) => ({
    ...state, mishaps: [...state.mishaps, text(event, "what")],
  }),
  draw_finished: (state, event) => ({
    ...endAttempt(state, true, text(event, "reason")), ended: "finished",
  }),
  draw_not_obtained: (state, event) => ({
    ...endAttempt(state, false, text(event, "reason")), ended: "not_obtained",
  }),
};

/* Take one event into the state, with the findings that stand against it. */
export function take(sheet, before, event) {
  const findings = judge(sheet, before, event);
  let state = { ...before, findings: [...before.findings, ...findings] };
  if (!state.collectors.includes(event.who)) {
    state = { ...state, collectors: [...state.collectors, event.who] };
  }
  const change = CHANGES[event.kind];
  if (!change || findings.some((f) => f.severity === "stop")) return state;
  return change(state, event);
}

export const fold = (sheet, events) =>
  events.reduce((state, event) => take(sheet, state, event), emptyState());
