/* Scanning at the reception and at a box: a scanner types quickly and ends with Enter, wherever the
   focus is.  Scans are sent one after another in their order; the next may come before the last is
   answered.  Every page works without this file, one scan at a time. */
"use strict";

const QUICK_MS = 60;
const PAUSE_MS = 300;
const SHORTEST = 6;
const SOUNDS = "way-sounds";

/* ---------------------------------------------------------------- tones */

let audio = null;

function tone(at, hertz, seconds, loud) {
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  oscillator.type = "square";
  oscillator.frequency.value = hertz;
  gain.gain.setValueAtTime(loud, at);
  gain.gain.exponentialRampToValueAtTime(0.001, at + seconds);
  oscillator.connect(gain).connect(audio.destination);
  oscillator.start(at);
  oscillator.stop(at + seconds);
}

const TONES = {
  good: [[0, 1320, 0.09, 0.12]],
  note: [[0, 1320, 0.09, 0.12]],
  twice: [[0, 880, 0.1, 0.2], [0.16, 880, 0.1, 0.2]],
  ask: [[0, 660, 0.18, 0.2]],
  stop: [[0, 220, 0.22, 0.35], [0.27, 165, 0.35, 0.35]],
};

function soundsOn() {
  return localStorage.getItem(SOUNDS) !== "off";
}

function sound(kind) {
  document.body.dataset.sound = kind;
  if (!soundsOn() || !window.AudioContext || !TONES[kind]) return;
  audio = audio || new AudioContext();
  if (audio.state === "suspended") audio.resume();
  for (const [after, ...rest] of TONES[kind]) tone(audio.currentTime + after, ...rest);
}

const sounds = document.querySelector("[data-sounds]");
if (sounds) {
  const show = () => sounds.setAttribute("aria-pressed", String(soundsOn()));
  sounds.hidden = false;
  sounds.addEventListener("click", () => {
    localStorage.setItem(SOUNDS, soundsOn() ? "off" : "on");
    show();
    sound("good");
  });
  show();
}

/* ---------------------------------------------------------------- what a scan brings back */

const form = document.querySelector("form[data-scan]");
const box = form && form.querySelector("[data-scan-box]");
const counts = {};
let scanned = 0;

function count(kind) {
  counts[kind] = (counts[kind] || 0) + 1;
  for (const each of document.querySelectorAll("[data-count]")) {
    const kinds = each.dataset.count.split(" ");
    each.textContent = kinds.reduce((sum, one) => sum + (counts[one] || 0), 0);
  }
}

function place(row) {
  const kind = row.dataset.kind;
  const list = document.getElementById(row.dataset.list);
  if (!list) return;
  const before = [...document.querySelectorAll("li[data-code]")].find(
    (each) => each.dataset.code === row.dataset.code && each.dataset.list === row.dataset.list,
  );
  scanned += 1;
  const number = row.querySelector("[data-n]");
  if (number) number.textContent = scanned;
  if (before && row.dataset.list === "look") {
    counts[before.dataset.kind] -= 1;
    before.remove();
  }
  list.prepend(row);
  list.closest("[data-holder]")?.removeAttribute("data-empty");
  count(kind);
  if (row.dataset.list === "look") document.body.dispatchEvent(new CustomEvent("standsout"));
  const said = document.getElementById("scan-said");
  if (said) {
    said.dataset.kind = kind;
    said.replaceChildren(...[...row.querySelectorAll("[data-say]")].map((each) => {
      const word = document.createElement("span");
      word.textContent = `${each.textContent.trim()} `;
      return word;
    }));
  }
  sound(kind);
}

function take(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html;
  for (const piece of [...holder.content.children]) {
    if (piece.matches("li[data-list]")) place(piece);
    else if (piece.id && document.getElementById(piece.id)) {
      document.getElementById(piece.id).replaceWith(piece);
      if (window.htmx) htmx.process(piece);
      if (piece.dataset.kind) sound(piece.dataset.kind);
    }
  }
}

function failed(text, sentence) {
  const row = document.createElement("li");
  row.className = "scanned stop";
  Object.assign(row.dataset, { kind: "stop", list: "look", code: text });
  const word = document.createElement("strong");
  word.dataset.say = "";
  word.textContent = `Not stored: ${text}. `;
  const said = document.createElement("span");
  said.dataset.say = "";
  said.textContent = sentence;
  row.append(word, said);
  place(row);
}

/* ---------------------------------------------------------------- sending, in order */

const waiting = [];
let busy = false;

function token() {
  return JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
}

async function send(text) {
  const body = new FormData(form);
  body.set("text", text);
  const answer = await fetch(form.action, {
    method: "POST",
    body,
    headers: {
      "X-CSRFToken": token(),
      "HX-Request": "true",
      "HX-Current-URL": location.href,
    },
  });
  const elsewhere = answer.headers.get("HX-Redirect");
  if (elsewhere) {
    waiting.length = 0;
    location.assign(elsewhere);
    return;
  }
  if (answer.ok || answer.status === 422) take(await answer.text());
  else failed(text, "The desk refused it: scan it again, or load the page anew.");
}

async function work() {
  if (busy) return;
  busy = true;
  document.body.dataset.scanning = "yes";
  while (waiting.length) {
    const text = waiting.shift();
    try {
      await send(text);
    } catch {
      failed(text, "The desk does not answer: scan it again.");
    }
  }
  busy = false;
  document.body.dataset.scanning = "no";
}

function scan(text) {
  const plain = text.trim();
  if (!plain || !form) return;
  if (form.dataset.scan === "go") {
    box.value = plain;
    form.submit();
    return;
  }
  waiting.push(plain);
  work();
}

/* ---------------------------------------------------------------- keys */

const TYPED = "textarea, select, input:not([type=checkbox], [type=radio], [type=file])";
let quick = [];

/* In another box the pace tells a scanner from a hand: many keys, and no time between them. */
function quickScan(event) {
  const now = event.timeStamp;
  if (quick.length && now - quick[quick.length - 1].at > PAUSE_MS) quick = [];
  if (event.key === "Enter") {
    const keys = quick;
    quick = [];
    if (keys.length < SHORTEST || (now - keys[0].at) / keys.length > QUICK_MS) return;
    event.preventDefault();
    event.stopPropagation();
    const whole = keys.map((each) => each.key).join("");
    const field = event.target;
    if (field.value.endsWith(whole)) field.value = field.value.slice(0, -whole.length);
    scan(whole);
  } else if (event.key.length === 1) quick.push({ key: event.key, at: now });
}

if (form) {
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
      if (event.target === box) {
        if (event.key !== "Enter") return;
        event.preventDefault();
        const text = box.value;
        box.value = "";
        scan(text);
        return;
      }
      if (event.target.matches?.(TYPED)) {
        quickScan(event);
        return;
      }
      if (event.key.length === 1 && event.key !== " ") box.focus();
    },
    true,
  );
  form.addEventListener("submit", (event) => {
    if (form.dataset.scan === "go") return;
    event.preventDefault();
    const text = box.value;
    box.value = "";
    scan(text);
    box.focus();
  });
}
