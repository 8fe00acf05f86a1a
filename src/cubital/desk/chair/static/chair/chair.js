/* The chair: a round, one draw at a time, and everything written before the page goes on. */

import * as asking from "./chair_ask.js";
import { h } from "./chair_dom.js";
import { open as dialogs, typeIn } from "./chair_dialog.js";
import { Draw } from "./chair_draw.js";
import { head, message, notices, keepTime } from "./chair_head.js";
import { deviceName, uuid7 } from "./chair_ids.js";
import { fold, lacks } from "./chair_judge.js";
import { openMishaps } from "./chair_mishap.js";
import { know, PANELS } from "./chair_panels.js";
import { lock, openHandOver } from "./chair_people.js";
import { rack } from "./chair_rack.js";
import { roundView } from "./chair_round.js";
import { heard } from "./chair_scans.js";
import { listen } from "./chair_scanner.js";
import { ask, Sender, token } from "./chair_send.js";
import { keepTables, shortPanel } from "./chair_short.js";
import { sound } from "./chair_sound.js";
import { step } from "./chair_steps.js";
import { Store } from "./chair_store.js";

const OLD = 3 * 24 * 3600 * 1000;

class App {
  constructor() {
    this.round = null;
    this.me = { username: "", name: "", role: "", reminders: true, sounds: true };
    this.draw = null;
    this.draws = [];
    this.message = null;
    this.sync = { waiting: 0, refused: 0, state: "sent" };
    this.ahead = null;
    this.kept = "no";
    this.locked = false;
    this.lastSeen = Date.now();
    this.turn = Promise.resolve();
  }

  get cut() { return !navigator.onLine || this.sync.state === "cut"; }

  async start() {
    this.store = await Store.open();
    this.device = (await this.store.get("kept", "device")) || deviceName();
    await this.store.put("kept", this.device, "device");
    this.round = (await this.store.get("kept", "round")) || null;
    this.me = (await this.store.get("kept", "me")) || (this.round ? this.round.me : this.me);
    this.sender = new Sender(this.store, (sync) => this.synced(sync));
    this.sender.may = () => this.me.role === "collector";
    this.sender.heard = (ahead) => this.clock(ahead);
    await this.readDraws();
    await this.reopen();
    listen((text) => this.scan(text));
    for (const kind of ["pointerdown", "keydown"]) {
      document.addEventListener(kind, () => this.seenNow(), true);
    }
    setInterval(() => this.tick(), 250);
    this.render();
    await this.sender.flush();
    await this.load();
  }

  /* ---------------------------------------------------------------- what is kept */

  async readDraws() {
    const all = await this.store.all("draws");
    const old = Date.now() - OLD;
    this.draws = [];
    for (const kept of all) {
      const state = fold(kept.sheet, kept.events);
      if (kept.at < old && state.ended && this.sync.waiting === 0) {
        await this.store.remove("draws", kept.draw);
      } else {
        this.draws.push({
          draw: kept.draw, requisition: kept.requisition, ended: state.ended, begun: state.begun,
          kept,
        });
      }
    }
  }

  /* A draw that was under way when the page was closed goes on. */
  async reopen() {
    const code = await this.store.get("kept", "open");
    const kept = this.draws.find((d) => d.draw === code);
    if (kept) this.draw = this.drawOf(kept.kept);
  }

  drawOf(kept) {
    return new Draw(kept, {
      store: this.store, who: () => this.me.username, device: this.device,
      stored: () => this.sender.flush(),
    });
  }

  async load() {
    let answer;
    try {
      answer = await ask("/chair/round/");
    } catch {
      await this.sender.said("cut");
      this.render();
      return;
    }
    this.clock(answer.ahead);
    if (answer.status === 423) {
      lock(this, false);
      return;
    }
    if (answer.status !== 200 || !answer.body) {
      await this.sender.said("signed_out");
      if (!this.round) this.say({ severity: "ask", sentence: "Sign in as a collector first." }, "ask");
      this.render();
      return;
    }
    this.round = answer.body;
    this.me = answer.body.me;
    await this.store.put("kept", this.round, "round");
    await this.store.put("kept", this.me, "me");
    await this.readDraws();
    this.render();
    this.sender.wake();
    keepTables(this);
  }

  loadedAt() {
    return new Date(this.round.at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  }

  /* ---------------------------------------------------------------- one thing after another */

  /* Whatever was tapped or scanned waits its turn; what fails is said. */
  act(what) {
    this.turn = this.turn.then(async () => {
      this.message = null;
      try {
        await what();
      } catch (error) {
        this.say({
          severity: "stop",
          sentence: `It could not be kept on this device (${error.name}). Try again; write it on paper.`,
        }, "wrong");
      }
      this.render();
    });
    return this.turn;
  }

  scan(text) {
    this.seenNow();
    const front = dialogs[dialogs.length - 1];
    if (front) {
      if (front.heard) front.heard(text);
      else {
        front.deaf();
        sound("ask", this.me.sounds);
      }
      return;
    }
    if (this.locked) return;
    this.act(() => heard(this, text));
  }

  say(finding, tone) {
    this.message = finding;
    if (tone) sound(tone, this.me.sounds);
  }

  /* ---------------------------------------------------------------- draws */

  async openDraw(requisition) {
    const going = this.draws.find((d) => d.requisition === requisition && !d.ended);
    if (going) {
      this.draw = this.drawOf(going.kept);
    } else {
      const each = this.round.draws.find((d) => d.requisition === requisition);
      const others = this.round.others
        .filter(([code, , number]) => number !== requisition && !each.sheet.scans.includes(code))
        .map(([code, words]) => [code, words]);
      const kept = {
        draw: uuid7(), requisition, sheet: { ...each.sheet, others }, show: each.show, events: [],
        ui: {}, at: Date.now(),
      };
      await this.store.put("draws", kept);
      this.draws.push({ draw: kept.draw, requisition, ended: "", begun: false, kept });
      this.draw = this.drawOf(kept);
    }
    this.message = null;
    await this.store.put("kept", this.draw.kept.draw, "open");
  }

  async toRound() {
    const { draw } = this;
    if (draw && !draw.state.begun) await this.store.remove("draws", draw.kept.draw);
    this.draw = null;
    this.message = null;
    await this.store.remove("kept", "open");
    await this.readDraws();
    this.render();
    this.load();
  }

  writeAlone(kind, subject, payload, at) {
    const event = {
      id: uuid7(), site: this.round.place.code, kind, happened_at: new Date(at).toISOString(),
      who: this.me.username, device: this.device, subject, payload, corrects: null,
    };
    return this.store.record([event], null).then(() => this.sender.flush());
  }

  async mismatch(question) {
    await this.draw.mismatch(question);
    sound("wrong", this.me.sounds);
  }

  prepared(at, answer) {
    const asked = this.draw.show.asked[at];
    const keep = () => this.act(() => this.draw.prepare(at, answer));
    if (asked.severity !== "ask" || answer === "met") {
      keep();
      return;
    }
    asking.unprepared(this, asked, (reason) => this.act(async () => {
      await this.draw.prepare(at, answer);
      if (reason === "leave") {
        const stopped = [...(this.draw.ui.stoppedTests || []), ...asked.tests];
        await this.draw.remember({ stoppedTests: stopped });
      } else {
        await this.draw.override({ code: "preparation-unmet" }, reason);
      }
    }));
  }

  seen(findings) {
    this.act(async () => {
      const now = findings.map((finding) => `${finding.code} ${finding.subject}`);
      this.draw.kept.ui.seen = [...(this.draw.ui.seen || []), ...now];
      await this.draw.override(findings[0], "Seen at the chair");
    });
  }

  openChange() {
    asking.change(this, ({ site, device, gauge }) => this.act(async () => {
      if (site) await this.draw.chooseSite(site);
      else await this.draw.chooseDevice(device, gauge);
    }));
  }

  openFailed() {
    asking.failed(this, (reason) => this.act(async () => {
      const { draw } = this;
      const some = draw.state.drawn.some((d) => d.fill !== "none");
      if (some && draw.attempt) await draw.write(...draw.settled());
      await draw.failed(reason.code);
      await draw.remember({ noTourniquet: false });
      if (!reason.new_attempt) {
        if (some) await draw.leaveOut(draw.due.map((t) => t.accession), reason.name);
        else await draw.notObtained(reason.code);
      }
    }));
  }

  openNotObtained(reason) {
    if (reason) this.act(() => this.draw.notObtained(reason));
    else asking.notObtained(this, (code) => this.act(() => this.draw.notObtained(code)));
  }

  openWhyMissed(finding) {
    asking.whyMissed(this, finding, (reason) =>
      this.act(() => this.draw.leaveOut([finding.subject], reason)));
  }

  openTyped() {
    typeIn("Type it", "Number under the bar code", (text) => this.scan(text));
  }

  finish(list) {
    this.act(async () => {
      await this.draw.finish(list.map(({ finding, reason }) => [finding, reason]));
      sound("good", this.me.sounds);
      this.message = null;
      await this.readDraws();
    });
  }

  labelFor() {
    const open = this.draw.unlabelled;
    return open.find((d) => d.accession === this.draw.ui.labelFor) || open[0];
  }

  /* Labels of these tubes in a window of their own; of the whole sheet when none is named. */
  printSheet(tubes) {
    const form = h("form", { method: "post", action: "/chair/labels/", target: "_blank" },
      h("input", { type: "hidden", name: "csrfmiddlewaretoken", value: token() }),
      h("input", { type: "hidden", name: "sheet", value: this.draw.sheet.code }),
      tubes.map((each) => h("input", { type: "hidden", name: "tube", value: each })));
    document.body.append(form);
    form.submit();
    form.remove();
  }

  printLabels() {
    const { draw } = this;
    const tubes = draw.state.drawn.filter((d) => d.fill !== "none").map((d) => d.accession);
    this.printSheet(tubes);
    this.act(async () => {
      if (draw.sheet.policy.labels === "after" && draw.attempt) {
        await draw.write(...draw.settled(), ...draw.needleOut(true));
      }
      await draw.labelsPrinted(tubes);
    });
  }

  /* ---------------------------------------------------------------- people */

  openMishaps() { openMishaps(this); }
  openHandOver(reason) { openHandOver(this, reason); }
  lock() { lock(this); }

  handedTo(person, reason, note) {
    this.act(async () => {
      await this.draw.handOver(person, reason, note);
      await this.become(person);
    });
  }

  nowIs(person) {
    if (person.role !== "collector") {
      location.assign("/");
      return;
    }
    this.act(async () => {
      const other = person.username !== this.me.username;
      if (other && this.draw && this.draw.state.begun && !this.draw.state.ended) {
        await this.draw.handOver(person, "switched");
      }
      await this.become(person);
    });
  }

  async become(person) {
    this.me = {
      username: person.username, name: person.name, role: person.role,
      reminders: person.reminders !== false, sounds: person.sounds !== false,
    };
    await this.store.put("kept", this.me, "me");
    this.lastSeen = Date.now();
    this.sender.wake();
  }

  async habit(fields) {
    this.me = { ...this.me, ...fields };
    await this.store.put("kept", this.me, "me");
    try {
      await ask("/chair/habits/", { json: { reminders: this.me.reminders, sounds: this.me.sounds } });
    } catch {
      // kept here; the desk learns it another time
    }
  }

  async sendAgain() {
    await this.store.again();
    this.sender.wake();
  }

  openRefused() { asking.refused(this); }

  /* ---------------------------------------------------------------- time */

  clock(ahead) {
    if (ahead === null) return;
    this.ahead = ahead;
  }

  synced(sync) {
    const changed = JSON.stringify(sync) !== JSON.stringify(this.sync);
    this.sync = sync;
    if (changed) this.renderHead();
  }

  seenNow() {
    this.lastSeen = Date.now();
  }

  tick() {
    keepTime(this);
    const idle = this.round ? this.round.limits.idle_s : 300;
    const needleIn = this.draw && this.draw.attempt;
    if (!this.locked && !needleIn && Date.now() - this.lastSeen > idle * 1000) lock(this);
  }

  /* ---------------------------------------------------------------- the page */

  renderHead() {
    document.getElementById("head").replaceChildren(...head(this));
    document.getElementById("notices").replaceChildren(...notices(this));
  }

  render() {
    const key = document.activeElement?.dataset?.key;
    this.renderHead();
    const main = document.getElementById("main");
    const said = document.getElementById("message");
    said.replaceChildren(...message(this));
    if (!this.draw) {
      main.replaceChildren(roundView(this));
    } else {
      const name = step(this.draw);
      const panel = name === "short" ? shortPanel(this) : PANELS[name](this);
      const pick = name === "labels" ? (tube) => this.pickLabel(tube) : undefined;
      const early = ["scan", "identity", "preparation", "ask", "needle"].includes(name);
      main.replaceChildren(this.band(), h("div", { class: "two" },
        h("div", {}, panel, early ? know(this) : null), rack(this.draw, { pick })));
    }
    const at = `${this.draw?.kept.draw} ${main.querySelector("[data-step]")?.dataset.step}`;
    if (at !== this.at) window.scrollTo(0, 0); // a new step begins with who the patient is
    this.at = at;
    const same = key && main.querySelector(`[data-key="${CSS.escape(key)}"]`);
    const heading = main.querySelector("[tabindex='-1']");
    if (!dialogs.length) (same || heading)?.focus({ preventScroll: true });
  }

  pickLabel(tube) {
    if (this.labelFor().accession === tube.accession) {
      return h("p", { class: "label-state open" }, "scan its label now");
    }
    return h("button", {
      type: "button", class: "quiet", "data-key": `label-${tube.accession}`,
      onclick: () => this.act(() => this.draw.remember({ labelFor: tube.accession })),
    }, "Label this one");
  }

  band() {
    const { sheet, show, state } = this.draw;
    return h("section", { class: "band", "aria-label": "Patient" },
      h("div", {},
        h("h1", {}, h("bdi", {}, sheet.name)),
        h("p", { class: "ids" },
          h("span", {}, "No ", h("strong", {}, sheet.patient)),
          h("span", {}, "born ", h("strong", {}, show.born || "unknown"), `, ${show.age}`),
          h("span", {}, show.sex),
          h("span", {}, "requisition ", h("strong", {}, sheet.requisition))),
        show.remarks ? h("p", {}, h("strong", {}, "Remarks: "), h("bdi", {}, show.remarks)) : null),
      h("div", { class: "band-end" },
        sheet.policy.labels === "before" && !state.attempts.length && !state.ended
          && (!lacks(sheet) || this.draw.ui.few)
          && !state.mismatch && !show.barred.length
          ? h("button", {
            type: "button", class: "quiet", "data-key": "labels",
            onclick: () => this.printSheet([]),
          }, "Print labels")
          : null,
        state.begun && !state.ended ? null : h("button", {
          type: "button", class: "quiet", "data-key": "leave",
          onclick: () => this.act(() => this.toRound()),
        }, "Back to the round"),
        state.begun && !state.ended && !state.mismatch ? h("button", {
          type: "button", class: "quiet", "data-key": "hand",
          onclick: () => this.openHandOver("asked"),
        }, "Hand over") : null));
  }
}

const app = new App();
window.cubitalChair = { app };

async function keepPage() {
  if (!("serviceWorker" in navigator)) return;
  try {
    await navigator.serviceWorker.register("/sw.js", { scope: "/" });
    await navigator.serviceWorker.ready;
    app.kept = "yes";
    if (app.store) app.renderHead();
  } catch {
    app.kept = "no";
  }
}

/* A nervous second tap on the same spot would answer the next question unread. */
document.getElementById("main").addEventListener("click", (event) => {
  if (event.detail < 2) return;
  event.preventDefault();
  event.stopPropagation();
}, true);

/* Two windows of one device would write over each other: the second waits until it is alone. */
function alone() {
  if (!navigator.locks) return Promise.resolve();
  const name = "cubital-chair";
  return new Promise((go) => {
    const hold = () => { go(); return new Promise(() => {}); };
    navigator.locks.request(name, { ifAvailable: true }, (lock) => {
      if (lock) return hold();
      document.getElementById("main").replaceChildren(h("section", { class: "panel" },
        h("h1", { tabindex: "-1" }, "The chair is open in another window of this device"),
        h("p", {}, "Two windows would write over each other. Close the other one; this one then goes on by itself.")));
      navigator.locks.request(name, hold);
      return null;
    });
  });
}

keepPage();
alone().then(() => app.start());
