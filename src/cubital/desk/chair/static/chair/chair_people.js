/* Who is at the chair: switch, hand over, lock. Badge and PIN; with the network cut the badge of a
   collector of this round has to do, and the record says so. */

import { button, h } from "./chair_dom.js";
import { dialog, pinPad } from "./chair_dialog.js";
import { ask } from "./chair_send.js";

const BADGE_ONLY = "badge only: the network was cut, so the PIN was not asked";
const UNKNOWN = "The network is cut, and this badge is not of a collector of this round.";

/* Ask the desk whether badge and PIN belong together: {person}, {sentence} or {cut}. */
async function tryBadge(badge, pin, role) {
  let answer;
  try {
    answer = await ask("/switch/", { form: role ? { badge, pin, role } : { badge, pin } });
  } catch {
    return { cut: true };
  }
  if (answer.status === 200 && answer.body) return { person: answer.body };
  if (answer.status === 401) return { sentence: "The shift is over: sign in with a password." };
  return { sentence: answer.body ? answer.body.sentence : "The desk does not answer; try again." };
}

/* A badge was scanned: the PIN, then ``known(person, note)``. */
function checkBadge(app, badge, { role, known, refused }) {
  const offline = () => {
    const person = app.round && app.round.people.find((each) => each.badge === badge);
    if (!person) {
      refused(UNKNOWN);
      return UNKNOWN;
    }
    known({ ...person, role: "collector" }, BADGE_ONLY);
    return "";
  };
  if (!navigator.onLine) {
    offline();
    return;
  }
  pinPad("Your PIN", null, async (pin) => {
    const answer = await tryBadge(badge, pin, role);
    if (answer.cut) return offline();
    if (!answer.person) return answer.sentence;
    known(answer.person, "");
    return "";
  });
}

/* Ask for a badge until it is known; ``known`` gets the person. */
function askBadge(app, title, words, { role = "", known, closable = true, extra = null, kind = "" }) {
  let wrong = "";
  const field = h("input", { id: "badge-text", autocomplete: "off", maxlength: "64" });
  const form = h("form", { class: "typed", hidden: true },
    h("label", { for: "badge-text" }, "Number of the badge"), field,
    h("button", { type: "submit" }, "Take it"));
  const taken = (text) => {
    const badge = text.trim();
    if (!badge) return;
    checkBadge(app, badge, {
      role,
      known: (person, note) => {
        shown.close();
        known(person, note);
      },
      refused: (sentence) => {
        wrong = sentence;
        shown.draw();
      },
    });
  };
  const shown = dialog(title, () => [
    h("p", { class: "big" }, words),
    wrong ? h("p", { class: "said stop", role: "alert" }, wrong) : null,
    form,
    h("div", { class: "choices" },
      button("Type it instead", () => {
        form.hidden = false;
        field.focus();
      }, { kind: "quiet", key: "type-badge" }),
      extra),
  ], { heard: taken, closable, kind });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    taken(field.value);
  });
  return shown;
}

export function openSwitch(app) {
  askBadge(app, "Switch person", "Scan your badge", { known: (person) => app.nowIs(person) });
}

export function openHandOver(app, reason) {
  askBadge(app, "Hand over", "Scan the badge of the other collector", {
    role: "collector",
    known: (person, note) => app.handedTo(person, reason, note),
  });
}

/* Nothing is seen of anybody while it is locked; the desk is told, so that its pages lock too. */
export function lock(app, tell = true) {
  if (app.locked) return;
  app.locked = true;
  document.body.classList.add("locked");
  if (tell) ask("/lock/").catch(() => {});
  askBadge(app, "Locked", "Scan your badge to go on", {
    closable: false,
    kind: "lock",
    extra: h("a", { href: "/locked/?next=/chair/", class: "button" }, "Use a password"),
    known: (person) => {
      app.locked = false;
      document.body.classList.remove("locked");
      app.nowIs(person);
    },
  });
}
