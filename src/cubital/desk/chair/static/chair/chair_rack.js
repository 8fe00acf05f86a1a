/* The rack: each tube in the order of draw, with its closure colour and the colour's name. */

import { drawnTube } from "./chair_judge.js";
import { h, icon, ml, s } from "./chair_dom.js";

const WIDTH = 120;
const CAP = 34;
const TALL = 138;
const FULL = 0.86;

/* Walls, expected fill (a line), least accepted (dashes), and blood as far as it is in. */
export function tubeDrawing(show, fillUl, bloodUl) {
  const tall = Math.min(show.height_mm * 1.2, TALL - CAP - 4);
  const wide = Math.max(30, Math.min(show.diameter_mm * 3.2, 78));
  const left = (WIDTH - wide) / 2;
  const bottom = CAP + tall;
  const round = show.form === "culture_bottle" ? 8 : wide / 2;
  const level = (ul) => bottom - Math.min(1, ul / show.nominal_ul) * (tall - 6) * FULL;
  const blood = level(bloodUl);
  const deep = bottom - blood;
  const curve = Math.min(round, deep / 2);
  return s(
    "svg",
    { viewBox: `0 0 ${WIDTH} ${TALL}`, class: "tube-drawing", "aria-hidden": "true" },
    s("path", {
      d: `M${left} ${CAP - 2}V${bottom - round}a${round} ${round} 0 0 0 ${round} ${round}`
        + `h${wide - 2 * round}a${round} ${round} 0 0 0 ${round} ${-round}V${CAP - 2}`,
      class: "wall",
    }),
    bloodUl > 0 ? s("path", {
      d: `M${left + 1.5} ${blood}V${bottom - curve}a${curve} ${curve} 0 0 0 ${curve} ${curve}`
        + `h${wide - 3 - 2 * curve}a${curve} ${curve} 0 0 0 ${curve} ${-curve}V${blood}z`,
      class: "blood",
    }) : null,
    s("path", { d: `M${left - 9} ${level(fillUl)}H${left + wide + 9}`, class: "to-here" }),
    s("path", { d: `M${left - 4} ${level(show.fill_min_ul)}H${left + wide + 4}`, class: "least" }),
    s("rect", {
      x: 3, y: 1.5, width: WIDTH - 6, height: CAP - 3, rx: 6, fill: show.rgb, class: "cap",
    }),
    s("text", {
      x: WIDTH / 2, y: 22, "text-anchor": "middle", fill: show.ink, class: "cap-name",
    }, show.colour),
  );
}

/* How a tube stands, in a word and a class. */
function standing(draw, tube) {
  const drawn = drawnTube(draw.state, tube.accession);
  if (drawn) {
    if (!draw.saidFill(tube.accession)) return ["now", "on the needle"];
    if (drawn.fill === "none") return ["out", "no blood"];
    if (drawn.fill === "short") return ["done", `${ml(drawn.estimate_ul)} mL in`];
    return ["done", "full, mixed"];
  }
  const due = draw.due;
  if (!due.includes(tube)) return ["out", "left out"];
  return due[0] === tube ? ["next", "next"] : ["waits", ""];
}

function bloodIn(draw, tube) {
  const drawn = drawnTube(draw.state, tube.accession);
  if (!drawn || drawn.fill === "none") return 0;
  return drawn.fill === "short" ? drawn.estimate_ul : draw.fillOf(tube.accession);
}

function tubeItem(draw, tube, pick) {
  const show = draw.show.tubes[tube.accession];
  const [kind, words] = standing(draw, tube);
  const drawn = drawnTube(draw.state, tube.accession);
  const wantsLabel = drawn && drawn.fill !== "none";
  const label = wantsLabel && (drawn.labelled ? "label matched" : "no label yet");
  const fill = draw.fillOf(tube.accession);
  return h(
    "li",
    { class: `rack-tube ${kind}`, "aria-current": kind === "now" || kind === "next" ? "step" : null },
    h("p", { class: "rack-place" },
      h("span", { class: "n" }, tube.position),
      words ? h("span", { class: "standing" }, kind === "done" ? icon("good") : null, words) : null),
    tubeDrawing(show, fill, bloodIn(draw, tube)),
    h("p", { class: "rack-name" }, h("strong", {}, show.name.replaceAll(" mL", "\u00a0mL"))),
    h("p", {}, h("strong", {}, `${ml(fill)}\u00a0mL`), show.turns ? `, ${show.turns}` : ""),
    h("p", { class: "small" }, show.tests.join(", ")),
    show.handling.map((words) => h("p", { class: "handle" }, words)),
    show.cautions.map((words) => h("p", { class: "caution" }, words)),
    label ? h("p", { class: `label-state ${drawn.labelled ? "good" : "open"}` }, label) : null,
    pick && wantsLabel && !drawn.labelled ? pick(tube) : null,
    h("p", { class: "small mono" }, tube.accession),
  );
}

function discardItem(show) {
  return h(
    "li",
    { class: "rack-tube waits" },
    h("p", { class: "rack-place" },
      h("span", { class: "n" }, "0"), h("span", { class: "standing" }, "throw away")),
    tubeDrawing(show, show.fill_ul, 0),
    h("p", { class: "rack-name" }, h("strong", {}, show.name)),
    h("p", {}, "First this one: it is thrown away, unlabelled."),
  );
}

export function rack(draw, { pick } = {}) {
  return h(
    "section",
    { class: "rack-part", "aria-label": "The rack, in the order of draw" },
    h("ol", { class: "rack" },
      draw.show.discards.map(discardItem),
      draw.sheet.tubes.map((tube) => tubeItem(draw, tube, pick))),
  );
}
