/* Ids made here, without asking anybody: UUID version 7 (RFC 9562), each later than the last. */

let last = 0;

export function uuid7(now = Date.now()) {
  last = Math.max(now, last + 1);
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let rest = last;
  for (let at = 5; at >= 0; at -= 1) {
    bytes[at] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)]
    .join("-");
}

/* A short name for this device, made once. */
export function deviceName() {
  const bytes = crypto.getRandomValues(new Uint8Array(5));
  return `tablet-${Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}
