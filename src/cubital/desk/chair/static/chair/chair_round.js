/* The round: who waits today, and the scan that begins. */

import { button, h, s } from "./chair_dom.js";
import { lacks } from "./chair_judge.js";
import { bigScan } from "./chair_panels.js";

/* The closures, each colour once with its count. */
function colours(each) {
  if (!each.sheet) return null;
  const counts = new Map();
  for (const tube of each.sheet.tubes) {
    const show = each.show.tubes[tube.accession];
    const known = counts.get(show.colour) || { show, count: 0 };
    counts.set(show.colour, { show, count: known.count + 1 });
  }
  return h("span", { class: "colours" },
    [...counts.values()].map(({ show, count }) => h("span", { class: "colour" },
      s("svg", { viewBox: "0 0 20 14", "aria-hidden": "true" },
        s("rect", { x: 1, y: 1, width: 18, height: 12, rx: 3, fill: show.rgb, class: "cap" })),
      count > 1 ? `${count} × ${show.colour}` : show.colour)));
}

function standing(app, each) {
  const kept = app.draws.filter((d) => d.requisition === each.requisition);
  const ended = kept.find((d) => d.ended === "finished");
  if (ended) return h("span", { class: "mark good" }, "drawn");
  if (kept.some((d) => !d.ended && d.begun)) return h("span", { class: "mark now" }, "begun here");
  if (kept.some((d) => d.ended === "not_obtained")) {
    return h("span", { class: "mark ask" }, "not obtained");
  }
  const elsewhere = app.round.begun[each.requisition];
  if (elsewhere && !kept.some((d) => d.draw === elsewhere.draw)) {
    return h("span", { class: "mark ask" }, `begun ${elsewhere.at} by ${elsewhere.who}`);
  }
  return null;
}

function line(app, each) {
  const tubes = each.sheet ? each.sheet.tubes.length : 0;
  const earlier = app.round.earlier[each.patient] || [];
  const inside = [
    h("span", { class: "when" }, each.at),
    h("span", { class: "whom" },
      h("bdi", { class: "name" }, each.name),
      h("span", { class: "sub" }, [each.patient, each.ward].filter(Boolean).join(", ")),
      earlier.length
        ? h("span", { class: "sub" }, `today without blood: ${earlier.map((e) => `${e.at} ${e.who}`).join(", ")}`)
        : null),
    h("span", { class: "what" },
      each.urgent ? h("span", { class: "mark urgent" }, "urgent") : null,
      standing(app, each),
      each.sheet && lacks(each.sheet) ? h("span", { class: "mark ask" }, "fewer identifiers: say why") : null,
      each.refused ? h("span", { class: "mark stop" }, "cannot be drawn here")
        : h("span", {}, `${tubes} ${tubes === 1 ? "tube" : "tubes"}`),
      colours(each)),
  ];
  if (each.refused) {
    return h("li", { class: "wait refused" }, h("div", { class: "line" }, inside),
      h("p", { class: "small" }, each.refused));
  }
  return h("li", { class: "wait" },
    h("button", {
      type: "button", class: "line", "data-key": `draw-${each.requisition}`,
      onclick: () => app.act(() => app.openDraw(each.requisition)),
    }, inside));
}

export function roundView(app) {
  const { round } = app;
  if (!round) {
    return h("section", { class: "panel" },
      h("h1", { tabindex: "-1" }, "No round is on this device"),
      h("p", {}, app.cut
        ? "The network is cut, and no round was loaded before. Load it as soon as the network is back."
        : "Load today’s round; then it works with the network cut, too."),
      h("div", { class: "choices" },
        button("Load the round", () => app.act(() => app.load()), { kind: "primary huge", key: "load" })));
  }
  const finished = app.draws.filter((d) => d.ended === "finished").map((d) => d.requisition);
  const waiting = round.draws.filter((d) => !finished.includes(d.requisition));
  return h("section", { class: "panel round", "data-step": "round" },
    h("div", { class: "round-head" },
      h("div", {},
        h("h1", { tabindex: "-1" }, waiting.length
          ? `${waiting.length} ${waiting.length === 1 ? "waits" : "wait"} today`
          : "Nobody waits"),
        h("p", { class: "small" }, `Round of ${round.day}, loaded ${app.loadedAt()}`)),
      button("Load anew", () => app.act(() => app.load()), { kind: "quiet", key: "load" })),
    bigScan("Scan a wristband or a requisition"),
    h("ul", { class: "waiting" }, round.draws.map((each) => line(app, each))),
    h("div", { class: "choices end" },
      button("Type it instead", () => app.openTyped(), { kind: "quiet", key: "typed" })));
}
