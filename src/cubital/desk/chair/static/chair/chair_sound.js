/* Short tones made here: one high for "taken", two low for "wrong". They can be switched off. */

let context = null;

function ready() {
  const Context = window.AudioContext || window.webkitAudioContext;
  if (!Context) return null;
  context = context || new Context();
  if (context.state === "suspended") context.resume();
  return context;
}

function tone(at, hertz, seconds, loud) {
  const oscillator = context.createOscillator();
  const gain = context.createGain();
  oscillator.frequency.value = hertz;
  oscillator.type = "square";
  gain.gain.setValueAtTime(loud, at);
  gain.gain.exponentialRampToValueAtTime(0.001, at + seconds);
  oscillator.connect(gain).connect(context.destination);
  oscillator.start(at);
  oscillator.stop(at + seconds);
}

export const played = [];

export function sound(kind, on = true) {
  if (!on) return;
  played.push(kind);
  if (played.length > 50) played.shift();
  if (!ready()) return;
  const now = context.currentTime;
  if (kind === "good") tone(now, 1320, 0.09, 0.12);
  if (kind === "ask") tone(now, 660, 0.18, 0.2);
  if (kind === "wrong") {
    tone(now, 220, 0.22, 0.35);
    tone(now + 0.27, 165, 0.35, 0.35);
  }
  if (kind === "time") {
    tone(now, 880, 0.1, 0.25);
    tone(now + 0.16, 880, 0.1, 0.25);
  }
}
