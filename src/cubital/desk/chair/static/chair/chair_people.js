/* Who is at the chair: lock, switch, hand over. */

import { button, h } from "./chair_dom.js";
import { dialog, open, pinPad } from "./chair_dialog.js";
import { ask } from "./chair_send.js";

const BADGE_ONLY = "badge only: the network was cut, so the PIN was not asked";

/* Ask for a badge; ``taken`` gets its text. */
function askBadge(title, words, taken, more = {}) {
  const field = h("input", { id: "badge-text", autocomplete: "off", maxlength: "64" });
  const form = h("form", { class: "typed" },
    h("label", { for: "badge-text" }, "Or type its number"), field,
    h("button", { type: "submit" }, "Take it"));
  const shown = dialog(title, () => [
    h("p", { class: "big" }, words), more.extra || null, form,
  ], { ...more, heard: (text) => take(text) });
  const take = (text) => {
    const badge = text.trim();
    if (!badge) return;
    shown.close();
    taken(badge);
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    take(field.value);
  });
  return shown;
}

/* Ask the desk whether badge and PIN belong together; gives {person} or {sentence} or {cut}. */
async function tryBadge(badge, pin, role) {
  try {
    const form = role ? { badge, pin, role } : { badge, pin };
    const answer = await ask("/switch/", { form });
    if (answer.status === 200 && answer.body) return { person: answer.body };
    if (answer.status === 401) return { sentence: "The shift is over: sign in with a password." };
    return { sentence: answer.body ? answer.body.sentence : "The desk does not answer; try again." };
  } catch {
    return { cut: true };
  }
}

/* Badge, then PIN; with the network cut the badge of a known collector has to do. */
function identify(app, title, words, { role = "", closable = true, extra = null, known }) {
  const again = () => identify(app, title, words, { role, closable, extra, known });
  askBadge(title, words, (badge) => {
    const offline = () => {
      const person = app.round && app.round.people.find((p) => p.badge === badge);
      if (!person) return false;
      known({ ...person, role: "collector", reminders: true, sounds: true }, BADGE_ONLY);
      return true;
    };
    if (!navigator.onLine) {
      if (!offline()) again();
      return;
    }
    pinPad("PIN", h("p", {}, title), async (pin) => {
      const { person, sentence, cut } = await tryBadge(badge, pin, role);
      if (person) {
        known(person, "");
        return "";
      }
      if (cut) return offline() ? "" : "The network is cut, and this badge is not known here.";
      return sentence;
    }, { closable: true });
  }, { closable, extra });
}

export function openSwitch(app) {
  identify(app, "Switch", "Scan your badge", { known: (person) => app.nowIs(person) });
}

export function openHandOver(app, reason) {
  identify(app, "Hand over", "Scan the badge of the other collector", {
    role: "collector",
    known: (person, note) => app.handedTo(person, reason, note),
  });
}

/* Nothing is seen of anybody while it is locked. */
export function lock(app, tell = true) {
  if (app.locked) return;
  app.locked = true;
  document.body.classList.add("locked");
  if (tell) ask("/lock/").catch(() => {});
  showLock(app);
}

function showLock(app) {
  const extra = h("p", {},
    h("a", { href: "/locked/?next=/chair/", class: "button" }, "Use a password instead"));
  const unlock = (person) => {
    app.locked = false;
    document.body.classList.remove("locked");
    for (const each of [...open]) {
      if (each.element.classList.contains("lock")) each.element.close();
    }
    app.nowIs(person);
  };
  lockDialog(app, extra, unlock);
}

function lockDialog(app, extra, unlock) {
  const shown = dialog("Locked", () => [
    h("p", { class: "big" }, "Scan your badge to go on"),
    extra,
    button("Type the badge", () => typedBadge(), { kind: "quiet", key: "type-badge" }),
  ], { closable: false, kind: "lock", heard: (badge) => withPin(badge) });
  const typedBadge = () => askBadge("Your badge", "Scan it or type it", (badge) => withPin(badge));
  const withPin = (badge) => {
    const person = app.round && app.round.people.find((p) => p.badge === badge.trim());
    const offline = () => {
      if (!person) return "The network is cut, and this badge is not known here.";
      shown.close();
      unlock({ ...app.me, ...person, role: "collector" });
      return "";
    };
    if (!navigator.onLine) {
      offline();
      return;
    }
    pinPad("PIN", h("p", {}, "To go on"), async (pin) => {
      const answer = await tryBadge(badge, pin, "");
      if (answer.cut) return offline();
      if (!answer.person) return answer.sentence;
      shown.close();
      unlock(answer.person);
      return "";
    });
  };
}
