/* A scanner that types: quick keys ending in Enter, caught wherever the focus is. */

const LONGEST_GAP = 400;
const SHORTEST = 2;

export function listen(heard) {
  let keys = "";
  let last = 0;
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
      if (event.target.closest?.("input, textarea, select")) return;
      const now = performance.now();
      if (now - last > LONGEST_GAP) keys = "";
      if (event.key === "Enter") {
        if (keys.length < SHORTEST) return;
        event.preventDefault();
        event.stopPropagation();
        const scanned = keys;
        keys = "";
        heard(scanned);
        return;
      }
      if (event.key.length !== 1) return;
      if (keys && event.key === " ") event.preventDefault(); // no button is pressed by a code
      keys += event.key;
      last = now;
    },
    true,
  );
}
