/* The way from the outbox to the desk: in order, again and again until it is there. */

const AT_ONCE = 100;
const FIRST_PAUSE = 2000;
const LONGEST_PAUSE = 30000;
const PATIENCE = 20000;

export function token() {
  const found = document.cookie.match(/(?:^|;\s*)csrftoken=([^;]+)/);
  return found ? found[1] : "";
}

/* Ask the desk; gives {status, body, ahead} with the answer's JSON, null where it is none. */
export async function ask(address, { method = "POST", json, form } = {}) {
  const headers = { Accept: "application/json", "X-CSRFToken": token() };
  let body;
  if (json !== undefined) {
    headers["Content-Type"] = "application/json";
    body = JSON.stringify(json);
  }
  if (form) body = new URLSearchParams(form);
  const before = Date.now();
  const answer = await fetch(address, {
    method, headers, body, credentials: "same-origin", cache: "no-store",
    signal: AbortSignal.timeout(PATIENCE),
  });
  const now = Date.now();
  const isJson = (answer.headers.get("Content-Type") || "").includes("json");
  const read = isJson && !answer.redirected ? await answer.json() : null;
  const told = Date.parse(answer.headers.get("Date") || "");
  const ahead = Number.isNaN(told) ? null : (before + now) / 2 - told - 500;
  return { status: answer.redirected ? 401 : answer.status, body: read, ahead };
}

export class Sender {
  /* ``tell`` is called with {waiting, refused, state}: sent, waiting, cut, signed_out, role. */
  constructor(store, tell) {
    this.store = store;
    this.tell = tell;
    this.state = "sent";
    this.pause = FIRST_PAUSE;
    this.timer = null;
    this.busy = false;
    this.wanted = false;
    this.may = () => true;
    this.heard = () => {};
    window.addEventListener("online", () => this.wake());
    window.addEventListener("offline", () => this.said("cut"));
  }

  async said(state) {
    if (state) this.state = state;
    const [waiting, refused] = await Promise.all([
      this.store.count("outbox"), this.store.count("refused"),
    ]);
    this.tell({ waiting, refused, state: waiting === 0 && state !== "cut" ? "sent" : this.state });
    return waiting;
  }

  wake() {
    this.pause = FIRST_PAUSE;
    clearTimeout(this.timer);
    this.flush();
  }

  later() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), this.pause);
    this.pause = Math.min(this.pause * 2, LONGEST_PAUSE);
  }

  /* Send what waits; a second call while one is under way makes it look once more. */
  async flush() {
    this.wanted = true;
    if (this.busy) return;
    this.busy = true;
    try {
      while (this.wanted) {
        this.wanted = false;
        await this.sendAll();
      }
    } finally {
      this.busy = false;
    }
  }

  async sendAll() {
    for (;;) {
      const some = await this.store.waiting(AT_ONCE);
      if (!some.length) {
        this.pause = FIRST_PAUSE;
        await this.said("sent");
        return;
      }
      if (!this.may()) {
        await this.said("role");
        return;
      }
      await this.said(this.state === "sent" ? "waiting" : this.state);
      let answer;
      try {
        answer = await ask("/api/events", { json: { events: some.map(({ event }) => event) } });
      } catch {
        await this.said("cut");
        this.later();
        return;
      }
      this.heard(answer.ahead);
      if (answer.status !== 200 || !answer.body) {
        await this.said([401, 403].includes(answer.status) ? "signed_out" : "cut");
        this.later();
        return;
      }
      const settled = settledOf(some, answer.body.answers);
      await this.store.settle(settled);
      if (!settled.length) {
        await this.said("cut");
        this.later();
        return;
      }
      await this.said("waiting");
    }
  }
}

/* Which events are done with: stored, stored before, or refused with a sentence. */
function settledOf(some, answers) {
  const byId = new Map(answers.map((answer) => [answer.id, answer]));
  return some
    .filter(({ event }) => byId.has(event.id))
    .map(({ key, event }) => {
      const answer = byId.get(event.id);
      return { key, event, sentence: answer.verdict === "refused" ? answer.sentence : "" };
    });
}
