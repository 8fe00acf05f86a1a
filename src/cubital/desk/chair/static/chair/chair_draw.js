/* One draw: what was scanned and tapped becomes events, and the events say how it stands.

   A draw is kept as {draw, requisition, sheet, show, events, ui, at}; everything that the page
   shows is folded from its events, so a reload brings it back. */

import { uuid7 } from "./chair_ids.js";
import {
  attemptsOf, codeOf, drawnTube, fold, identityComplete, judge, lacks, openAttempt, planned, take,
  understand,
} from "./chair_judge.js";

export class Draw {
  /* ``site`` is the place's code, ``who()`` the collector now, ``device`` this tablet. */
  constructor(kept, { store, who, device, stored }) {
    this.kept = kept;
    this.store = store;
    this.who = who;
    this.device = device;
    this.stored = stored;
    this.state = fold(kept.sheet, kept.events);
  }

  get sheet() { return this.kept.sheet; }
  get show() { return this.kept.show; }
  get ui() { return this.kept.ui; }

  /* ---------------------------------------------------------------- events */

  event(kind, subject, payload = {}, at = Date.now()) {
    return {
      id: uuid7(), site: this.sheet.site, kind, happened_at: new Date(at).toISOString(),
      who: this.who(), device: this.device, subject, payload, corrects: null,
    };
  }

  ofDraw(kind, payload, at) {
    return this.event(kind, `draw:${this.kept.draw}`, payload, at);
  }

  ofTube(kind, accession, payload) {
    return this.event(kind, `specimen:${accession}`, payload);
  }

  /* The events are in the outbox before anything else happens. */
  async write(...events) {
    this.kept.events.push(...events);
    for (const event of events) this.state = take(this.sheet, this.state, event);
    await this.store.record(events, this.kept);
    this.stored();
  }

  /* Keep what the page remembers beside the events. */
  async remember(fields) {
    Object.assign(this.kept.ui, fields);
    await this.store.put("draws", this.kept);
  }

  /* ---------------------------------------------------------------- how it stands */

  get identified() { return identityComplete(this.sheet, this.state); }
  get attempt() { return openAttempt(this.state); }
  get attemptsLeft() {
    return this.sheet.policy.attempts - attemptsOf(this.state, this.who());
  }
  get question() {
    return this.sheet.questions.find((q) => !this.state.confirmed.includes(q.code));
  }
  get site() {
    const first = this.show.sites[0] || { site: "", side: "", name: "" };
    return this.state.site
      ? this.show.sites.find((s) => s.site === this.state.site && s.side === this.state.side)
        || first
      : first;
  }
  get deviceCode() { return this.state.device || this.show.device; }
  get gauge() { return this.state.device ? this.state.gauge : this.show.gauge; }
  get venous() { return this.show.route === "venous"; }
  get syringe() {
    const row = this.show.devices.find((d) => d.code === this.deviceCode);
    return Boolean(row) && row.draws_by === "plunger";
  }

  saidFill(accession) {
    return this.kept.events.some((e) => e.kind === "tube_filled" && codeOf(e) === accession);
  }

  /* The tube on the needle: scanned, and nothing said yet about how far it filled. */
  get pending() {
    const open = this.state.drawn.filter((d) => !this.saidFill(d.accession));
    return open[open.length - 1] || null;
  }

  /* Whether the needle that is in has filled anything. */
  get gaveBlood() {
    const kinds = this.kept.events.map((e) => e.kind);
    return this.kept.events.slice(kinds.lastIndexOf("attempt_begun")).some((event) => {
      const drawn = event.kind === "tube_scanned" && drawnTube(this.state, codeOf(event));
      return Boolean(drawn) && drawn.fill !== "none";
    });
  }

  /* Tests that the patient's answers stopped, or that are left out because of them. */
  get stoppedTests() {
    const answers = this.answers();
    const stopped = this.show.asked
      .filter((a, at) => a.severity === "stop" && answers[at] === "not_met")
      .flatMap((a) => a.tests);
    return new Set([...stopped, ...(this.kept.ui.stoppedTests || [])]);
  }

  answers() {
    return this.kept.ui.answers || {};
  }

  /* Tubes that still have their turn: not drawn, not left out, not stopped. */
  get due() {
    const out = new Set(this.kept.ui.leftOut || []);
    const stopped = this.stoppedTests;
    return this.sheet.tubes.filter(
      (t) => !drawnTube(this.state, t.accession) && !out.has(t.accession)
        && !(t.tests.length && t.tests.every((test) => stopped.has(test))),
    );
  }

  get unlabelled() {
    return this.state.drawn.filter((d) => d.fill !== "none" && !d.labelled);
  }

  read(scanned) {
    return understand(this.sheet, this.state, scanned);
  }

  against(event) {
    return judge(this.sheet, this.state, event);
  }

  /* What a short draw changed about a tube: {fill_ul, tests}. */
  changed(accession) {
    return (this.kept.ui.fills || []).find((f) => f.accession === accession) || null;
  }

  fillOf(accession) {
    const changed = this.changed(accession);
    return changed ? changed.fill_ul : planned(this.sheet, accession).fill_ul;
  }

  /* Take the core's answer about a short draw: which tubes still get blood, and how much. */
  shorten(answer) {
    const reasons = { ...this.kept.ui.reasons };
    for (const accession of answer.left_out) reasons[accession] = "Short of blood";
    const planned = this.sheet.tubes;
    const fills = answer.fills.filter(
      (f) => f.fill_ul < planned.find((t) => t.accession === f.accession).fill_ul,
    );
    const leftOut = [...new Set([...(this.kept.ui.leftOut || []), ...answer.left_out])];
    return this.remember({ fills, leftOut, reasons, shortOpen: false });
  }

  leaveOut(accessions, reason) {
    const reasons = { ...this.kept.ui.reasons };
    for (const accession of accessions) reasons[accession] = reason;
    const leftOut = [...new Set([...(this.kept.ui.leftOut || []), ...accessions])];
    return this.remember({ leftOut, reasons });
  }

  /* ---------------------------------------------------------------- what may be done */

  begin() {
    return this.write(
      this.ofDraw("draw_begun", {
        patient: this.sheet.patient, requisition: this.sheet.requisition,
        edition: this.sheet.plan_edition, planned_ul: this.show.planned_ul, sheet: this.sheet.code,
      }),
      this.ofDraw("identity_confirmed", { identifiers: ["scan"], scanned: true }),
    );
  }

  confirm(question) {
    const said = { identifiers: [question.code] };
    // read instead of said: the record has the reason from here on, and the checks hold
    if (this.ui.few && !lacks(this.sheet) && !this.state.few) said.reason = this.ui.few;
    return this.write(this.ofDraw("identity_confirmed", said));
  }

  mismatch(question) {
    return this.write(this.ofDraw("identity_mismatch", { identifier: question.code }));
  }

  async prepare(at, answer) {
    const asked = this.show.asked[at];
    this.kept.ui.answers = { ...this.answers(), [at]: answer };
    await this.write(
      this.ofDraw("preparation_answered", { need: asked.need, answer, test: asked.tests[0] }),
    );
  }

  override(finding, reason) {
    return this.write(this.ofDraw("override_given", { finding: finding.code, reason }));
  }

  chooseSite(site) {
    return this.write(this.ofDraw("site_chosen", { body_site: site.site, side: site.side }));
  }

  chooseDevice(device, gauge) {
    return this.write(this.ofDraw("device_chosen", { device, gauge }));
  }

  tourniquetOn() { return this.write(this.ofDraw("tourniquet_on")); }
  tourniquetOff() { return this.write(this.ofDraw("tourniquet_off")); }

  /* What was not said about earlier tubes: they filled as expected, and were mixed. */
  settled() {
    return this.state.drawn
      .filter((d) => !this.saidFill(d.accession))
      .flatMap((d) => {
        const less = this.changed(d.accession);
        const filled = less ? { fill: "short", volume_ul: less.fill_ul } : { fill: "full" };
        return [
          this.ofTube("tube_filled", d.accession, filled), this.ofTube("tube_mixed", d.accession),
        ];
      });
  }

  needleIn() {
    const { site, side } = this.site;
    const payload = { draw: this.kept.draw, device: this.deviceCode, gauge: this.gauge };
    if (site) Object.assign(payload, { body_site: site, side });
    return this.event("attempt_begun", `attempt:${uuid7()}`, payload);
  }

  tubeEvent(accession, { lot = "", container } = {}) {
    const tube = planned(this.sheet, accession);
    const code = this.sheet.stock.find((c) => c.lot === lot && c.container === tube.container);
    const payload = {
      draw: this.kept.draw, patient: this.sheet.patient, container: container || tube.container,
      additive: tube.additive, position: tube.position, requisition: this.sheet.requisition,
      tests: (this.changed(accession) || tube).tests,
    };
    if (lot) payload.lot = lot;
    if (code) payload.expires_on = code.expires_on;
    if (!payload.tests.length) delete payload.tests;
    return this.ofTube("tube_scanned", accession, payload);
  }

  /* A tube in the hand: the one before it is full and mixed, and the needle is in. */
  async takeTube(accession, { lot = "", labelled = false, reason = "", findings = [] } = {}) {
    const events = this.settled();
    if (!this.attempt) events.push(this.needleIn());
    for (const finding of findings) {
      events.push(this.ofDraw("override_given", { finding: finding.code, reason }));
    }
    events.push(this.tubeEvent(accession, { lot }));
    if (labelled) events.push(this.ofTube("label_matched", accession, { label: accession }));
    await this.write(...events);
  }

  refuse(finding, scan) {
    const payload = { finding: finding.code };
    if (scan.lot) payload.lot = scan.lot;
    const code = scan.text.slice(0, 64).trim();
    if (code) payload.code = code;
    return this.write(this.ofDraw("tube_refused", payload));
  }

  fill(accession, fill, volume) {
    const said = this.ofTube(
      "tube_filled", accession, fill === "short" ? { fill, volume_ul: volume } : { fill },
    );
    return this.write(said, ...(fill === "none" ? [] : [this.ofTube("tube_mixed", accession)]));
  }

  matchLabel(accession, label) {
    return this.write(this.ofTube("label_matched", accession, { label }));
  }

  labelsPrinted(accessions) {
    return this.write(
      ...accessions.map((each) => this.ofTube("label_printed", each, { label: each })),
    );
  }

  /* The needle is out: with blood, or without and why. */
  needleOut(obtained, reason = "") {
    const events = [];
    if (this.state.tourniquetSince !== null) events.push(this.ofDraw("tourniquet_off"));
    if (this.attempt) {
      const payload = { draw: this.kept.draw, success: obtained };
      if (reason) payload.reason = reason;
      events.push(this.event("attempt_ended", `attempt:${this.attempt.code}`, payload));
    }
    return events;
  }

  /* A needle that gave nothing; it went in even if no tube was scanned on it. */
  async failed(reason) {
    const events = [];
    if (!this.attempt) {
      const begun = this.needleIn();
      events.push(begun);
      if (this.state.tourniquetSince !== null) events.push(this.ofDraw("tourniquet_off"));
      events.push(
        this.event("attempt_ended", begun.subject, {
          draw: this.kept.draw, success: false, reason,
        }),
      );
      await this.write(...events);
      return;
    }
    await this.write(...this.needleOut(this.gaveBlood, reason));
  }

  handOver(person, reason, note = "") {
    const payload = { to: person.username, reason };
    if (note) payload.note = note;
    return this.write(this.ofDraw("draw_handed_over", payload));
  }

  /* The draw is done; ``reasons`` says why each tube that is left out is left out. */
  async finish(overrides = []) {
    const events = [...this.settled(), ...this.needleOut(true)];
    for (const [finding, reason] of overrides) {
      events.push(this.ofDraw("override_given", { finding: finding.code, reason }));
    }
    events.push(this.ofDraw("draw_finished"));
    await this.write(...events);
  }

  async notObtained(reason, note = "") {
    const payload = note ? { reason, note } : { reason };
    const empty = this.state.drawn
      .filter((d) => !this.saidFill(d.accession))
      .map((d) => this.ofTube("tube_filled", d.accession, { fill: "none" }));
    await this.write(
      ...empty, ...this.needleOut(false, reason), this.ofDraw("draw_not_obtained", payload),
    );
  }
}
