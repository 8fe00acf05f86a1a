/* Small helps to build the page: every text goes in as text, never as markup. */

const SVG = "http://www.w3.org/2000/svg";

function put(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else element.setAttribute(name, value);
  }
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : String(child));
  }
  return element;
}

export const h = (tag, attributes, ...children) =>
  put(document.createElement(tag), attributes, children);

export const s = (tag, attributes, ...children) =>
  put(document.createElementNS(SVG, tag), attributes, children);

/* A button: ``key`` names it so that the focus finds it again after the page was drawn anew. */
export function button(words, press, { kind = "", key, sub, ...more } = {}) {
  return h(
    "button",
    { type: "button", class: kind, "data-key": key || words, onclick: press, ...more },
    h("span", {}, words),
    sub ? h("span", { class: "sub" }, sub) : null,
  );
}

const SHAPES = {
  stop: [["path", { d: "M8 1h8l7 7v8l-7 7H8l-7-7V8z" }],
    ["path", { d: "M7.5 7.5l9 9m0-9l-9 9", class: "cut" }]],
  ask: [["path", { d: "M12 1.5 23.5 22H.5z" }], ["path", { d: "M12 9v6", class: "cut" }],
    ["circle", { cx: 12, cy: 18.4, r: 1.5, class: "dot" }]],
  note: [["circle", { cx: 12, cy: 12, r: 11 }], ["path", { d: "M12 10.5v8", class: "cut" }],
    ["circle", { cx: 12, cy: 6.4, r: 1.7, class: "dot" }]],
  good: [["circle", { cx: 12, cy: 12, r: 11 }],
    ["path", { d: "M6.5 12.5l4 4 7-8", class: "cut" }]],
};

export const icon = (kind) =>
  s("svg", { viewBox: "0 0 24 24", class: `icon ${kind}`, "aria-hidden": "true" },
    (SHAPES[kind] || SHAPES.note).map(([tag, attributes]) => s(tag, attributes)));

export const WORDS = { stop: "Stop.", ask: "Ask.", note: "Note.", good: "Good." };

/* A finding in words, with its word, its icon and its source. */
export function said(finding, sources = {}) {
  const kind = finding.severity;
  return h(
    "li",
    { class: `said ${kind}` },
    icon(kind),
    h("div", {},
      h("p", {}, h("strong", {}, `${WORDS[kind]} `), finding.sentence),
      finding.words || sources[finding.source]
        ? h("p", { class: "source" }, finding.words || sources[finding.source]) : null),
  );
}

export const ml = (ul) => String(Number((ul / 1000).toFixed(2)));

export function clock(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

export const ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth"];
