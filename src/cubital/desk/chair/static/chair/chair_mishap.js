/* When something goes wrong: the first-aid card first, the short form under it, one event. */

import { button, h } from "./chair_dom.js";
import { choose, dialog } from "./chair_dialog.js";
import { uuid7 } from "./chair_ids.js";

const HOUR = 3600 * 1000;

export function openMishaps(app) {
  choose("What happened?", null,
    app.round.cards.mishaps.map((m) => [m.name, m.code, m.whom === "patient" ? "" : "other"]),
    (code) => openCard(app, app.round.cards.mishaps.find((m) => m.code === code), Date.now()),
    { kind: "wide" });
}

function moment(at) {
  return new Date(at).toLocaleString("en-GB", {
    day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit",
  });
}

/* Weeks ahead nobody keeps an appointment to the minute: the day is enough. */
const EXACT_H = 72;
function day(at) {
  return new Date(at).toLocaleDateString("en-GB", {
    weekday: "short", day: "numeric", month: "short", year: "numeric",
  });
}

function numbers(app) {
  const some = app.round.cards.numbers;
  if (!some.length) {
    return h("p", { class: "numbers none" },
      "No telephone number is set for this place; a manager enters them on the page of the place.");
  }
  return h("ul", { class: "numbers", "aria-label": "Telephone" },
    some.map(([whom, number]) => h("li", {}, h("span", {}, whom), h("strong", {}, number))));
}

function span({ from_h: from, until_h: until }, at) {
  const said = until > EXACT_H ? day : moment;
  const end = `until ${said(at + until * HOUR)}`;
  return from ? `from ${said(at + from * HOUR)} ${end}` : end;
}

function due(app, mishap, at) {
  if (!mishap.due.length) return null;
  return h("div", {},
    h("h3", {}, "What follows"),
    h("ol", { class: "due" }, mishap.due.map((each) =>
      h("li", {},
        h("p", {}, each.sentence),
        h("p", { class: "small" }, span(each, at)),
        h("p", { class: "source" }, app.round.cards.sources[each.source] || "")))));
}

/* The card of a mishap; it is written when the person says so, with the time it was opened. */
export function openCard(app, mishap, at) {
  const people = new Set([app.me.username]);
  const note = h("textarea", { id: "mishap-note", rows: "2", maxlength: "500" });
  const others = app.round.people.filter((p) => p.username !== app.me.username);
  const build = (close, draw) => [
    numbers(app),
    h("p", { class: "protocol" }, app.round.cards.caution),
    h("ol", { class: "steps" }, mishap.steps.map((step) =>
      h("li", {}, h("p", {}, step.sentence),
        h("p", { class: "source" }, app.round.cards.sources[step.source] || "")))),
    due(app, mishap, at),
    h("div", { class: "form" },
      h("h3", {}, "For the record"),
      h("p", {}, `${moment(at)}, written by ${app.me.name}.`),
      app.draw
        ? h("p", {}, "Patient ", h("strong", {}, h("bdi", {}, app.draw.sheet.name)),
          `, No ${app.draw.sheet.patient}, requisition ${app.draw.sheet.requisition}.`)
        : null,
      others.length
        ? h("fieldset", {}, h("legend", {}, "Who else was there?"),
          others.map((person) => h("label", { class: "tick" },
            h("input", {
              type: "checkbox", checked: people.has(person.username),
              onchange: (event) => {
                if (event.target.checked) people.add(person.username);
                else people.delete(person.username);
              },
            }), h("span", {}, person.name))))
        : null,
      h("label", { for: "mishap-note" }, "Anything else (may stay empty)"), note),
    h("div", { class: "choices" },
      button("Write it down", () => {
        close();
        app.act(() => write(app, mishap, at, [...people], note.value.trim()));
      }, { kind: "primary huge", key: "write" }),
      button("Opened by mistake", close, { kind: "quiet", key: "mistake" })),
  ];
  dialog(mishap.name, build, { kind: "wide card", closable: false });
}

async function write(app, mishap, at, people, note) {
  const payload = { what: mishap.code, people };
  const { draw } = app;
  if (draw && draw.state.begun) payload.draw = draw.kept.draw;
  if (draw) payload.patient = draw.sheet.patient;
  if (note) payload.note = note.replace(/\s+/g, " ");
  const subject = `incident:${uuid7()}`;
  if (!draw) {
    await app.writeAlone("incident_recorded", subject, payload, at);
  } else {
    const events = [draw.event("incident_recorded", subject, payload, at)];
    const out = mishap.ends_attempt && draw.attempt;
    if (out) events.push(...draw.settled(), ...draw.needleOut(draw.gaveBlood, mishap.code));
    await draw.write(...events);
    if (mishap.ends_draw && draw.state.begun && !draw.state.ended) await endDraw(draw, mishap);
  }
  app.say({ severity: "good", sentence: `${mishap.name}: written down.` }, "good");
}

/* Nothing more is drawn today: what is in the tubes stays, the rest is left out. */
async function endDraw(draw, mishap) {
  await draw.leaveOut(draw.due.map((tube) => tube.accession), mishap.name);
}
