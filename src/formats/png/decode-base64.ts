const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';
const VALUES = new Int16Array(128).fill(-1);
for (let i = 0; i < ALPHABET.length; i++) VALUES[ALPHABET.charCodeAt(i)] = i;

/** Bytes of base64 text (RFC 4648 section 4, padded); null for text that is not. */
export function decodeBase64(text: string): Uint8Array | null {
  const n = text.length;
  if (n % 4 !== 0) return null;
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Uint8Array((n / 4) * 3 - padding);
  let out = 0;
  for (let at = 0; at < n; at += 4) {
    let word = 0;
    for (let k = 0; k < 4; k++) {
      const isPad = at + k >= n - padding;
      const code = text.charCodeAt(at + k);
      const value = isPad ? 0 : code < 128 ? VALUES[code]! : -1;
      if (value < 0) return null;
      word = (word << 6) | value;
    }
    for (let k = 16; k >= 0 && out < bytes.length; k -= 8) bytes[out++] = (word >> k) & 255;
  }
  return bytes;
}
