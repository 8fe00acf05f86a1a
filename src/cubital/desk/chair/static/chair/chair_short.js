/* Too little blood: how much there is, and what the core says can still be done with it. */

import { ask } from "./chair_send.js";
import { button, h, ml, said } from "./chair_dom.js";

const STEPS = [50, 100, 250, 500, 1000, 2000, 5000];
const MOST = 7;

/* Volumes to choose from, below the whole. */
export function volumes(wholeUl) {
  const step = STEPS.find((each) => wholeUl / each <= MOST + 1) || STEPS[STEPS.length - 1];
  const found = [];
  for (let ul = step; ul < wholeUl; ul += step) found.push(ul);
  return found;
}

/* What can still be done with so much blood; from the table when the desk does not answer. */
export async function stillPossible(app, draw, obtainedUl) {
  const drawn = draw.state.drawn.filter((d) => d.fill !== "none").map((d) => d.accession);
  const gone = [
    ...draw.state.drawn.filter((d) => d.fill === "none").map((d) => d.accession),
    ...(draw.ui.leftOut || []),
  ];
  const json = { sheet: draw.sheet.code, obtained_ul: obtainedUl, drawn, gone };
  try {
    const answer = await ask("/chair/short/", { json });
    if (answer.status === 200) return { answer: answer.body, from: "desk" };
  } catch {
    // the network is cut: the table serves
  }
  const table = await app.store.get("short", draw.sheet.code);
  const inOrder = draw.sheet.tubes.slice(0, drawn.length).every((t) => drawn.includes(t.accession));
  if (!table || !inOrder || gone.length) return { answer: null, from: "nowhere" };
  const row = table.table.after[drawn.length] || [];
  const at = Math.min(Math.floor(obtainedUl / table.table.step_ul), row.length - 1);
  return { answer: row[at] || null, from: "table" };
}

/* Keep the tables of the round, one after another, while nobody waits for anything. */
export async function keepTables(app) {
  for (const each of app.round.draws) {
    if (!each.sheet) continue;
    const { code } = each.sheet;
    if (await app.store.get("short", code)) continue;
    try {
      const answer = await ask(`/chair/short/${code}/`, { method: "GET" });
      if (answer.status === 200) await app.store.put("short", { code, table: answer.body });
    } catch {
      return;
    }
  }
}

function pendingPart(app, pending) {
  const { draw } = app;
  const show = draw.show.tubes[pending.accession];
  return [
    h("h2", { tabindex: "-1" }, `How full is tube ${show.position}?`),
    h("p", {}, h("strong", {}, show.name), `, planned ${ml(draw.fillOf(pending.accession))} mL,`
      + ` accepted from ${ml(show.fill_min_ul)} mL`),
    h("div", { class: "choices grid" },
      volumes(draw.fillOf(pending.accession)).map((ul) =>
        button(`${ml(ul)} mL`, () => app.act(() => filled(app, pending, ul)), {
          key: `fill-${ul}`, sub: ul >= show.fill_min_ul ? "accepted" : "less than accepted",
        }))),
  ];
}

async function filled(app, pending, ul) {
  const { draw } = app;
  await draw.fill(pending.accession, "short", ul);
  await draw.remember({ shortOpen: draw.due.length > 0 });
}

function restPart(app) {
  const { draw } = app;
  const whole = draw.due.reduce((sum, tube) => sum + draw.fillOf(tube.accession), 0);
  const left = draw.due.map((tube) => draw.show.tubes[tube.accession].name).join(", ");
  const pick = (ul) => app.act(async () => {
    const { answer, from } = await stillPossible(app, draw, ul);
    if (!answer) {
      app.say({ severity: "ask", sentence: "With the network cut this cannot be worked out: fill"
        + " the tubes in the order of draw, as far as the blood goes." }, "ask");
      await draw.remember({ shortOpen: false });
      return;
    }
    await draw.remember({ shortAnswer: { answer, from, obtained_ul: ul } });
  });
  return [
    h("h2", { tabindex: "-1" },
      draw.syringe ? "How much blood is in the syringe?" : "How much more blood will there be?"),
    h("p", {}, `For ${left}: planned ${ml(whole)} mL.`),
    h("div", { class: "choices grid" },
      button("Enough", () => app.act(() => draw.remember({ shortOpen: false })),
        { kind: "primary", key: "enough" }),
      volumes(whole).map((ul) => button(`${ml(ul)} mL`, () => pick(ul), { key: `left-${ul}` })),
      button("None", () => pick(0), { key: "left-0" })),
  ];
}

function answerPart(app, { answer, from, obtained_ul: obtained }) {
  const { draw } = app;
  const names = (accession) => draw.show.tubes[accession].name;
  const missed = answer.missed.filter((f) => draw.syringe || f.code !== "syringe-clot");
  return [
    h("h2", { tabindex: "-1" }, `With ${ml(obtained)} mL`),
    h("ul", { class: "fills" },
      answer.fills.map((fill) => {
        const tube = draw.sheet.tubes.find((t) => t.accession === fill.accession);
        return h("li", {}, h("strong", {}, `${tube.position}. ${names(fill.accession)}: ${ml(fill.fill_ul)} mL`),
          h("span", { class: "small" }, ` ${fill.tests.map((t) => draw.show.names[t] || t).join(", ")}`));
      }),
      answer.left_out.map((accession) => {
        const tube = draw.sheet.tubes.find((t) => t.accession === accession);
        return h("li", { class: "out" }, `${tube.position}. ${names(accession)}: left out`);
      })),
    missed.length
      ? h("ul", { class: "findings" }, missed.map((f) => said(f, app.round.sources)))
      : null,
    from === "table"
      ? h("p", { class: "small" }, "From the table kept on this device; the network is cut.") : null,
    h("div", { class: "choices" },
      button("Do it so", () => app.act(async () => {
        await draw.shorten(answer);
        await draw.remember({ shortAnswer: null });
      }), { kind: "primary huge", key: "do-it" }),
      button("Another volume", () => app.act(() => draw.remember({ shortAnswer: null })),
        { key: "another" })),
  ];
}

export function shortPanel(app) {
  const { draw } = app;
  const pending = draw.syringe ? null : draw.pending;
  let inside;
  if (draw.ui.shortAnswer) inside = answerPart(app, draw.ui.shortAnswer);
  else if (pending) inside = pendingPart(app, pending);
  else inside = restPart(app);
  return h("section", { class: "panel step-short", "data-step": "short" },
    inside,
    h("div", { class: "choices end" },
      button("Back", () => app.act(() => draw.remember({ shortOpen: false, shortAnswer: null })),
        { kind: "quiet", key: "back" })));
}
