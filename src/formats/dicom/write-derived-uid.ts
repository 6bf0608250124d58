/**
 * A UID under 2.25 (UUID-derived, PS3.5 B.2) made from words alone: the same words always give the same UID, so that
 * a phantom written twice has the same bytes. Not for real patients' objects: 122 bits of a plain mixing function,
 * good against accidents, not against intent.
 */
export function makeDerivedUid(...words: readonly (string | number)[]): string {
  const text = words.join('\u001f');
  let whole = 0n;
  for (let part = 0; part < 4; part++) {
    let h = Math.imul(part + 1, 0x9e3779b1) >>> 0;
    for (let i = 0; i < text.length; i++) {
      h = Math.imul(h ^ text.charCodeAt(i), 0x01000193) >>> 0;
      h = (h ^ (h >>> 15)) >>> 0;
    }
    h = Math.imul(h ^ (h >>> 16), 0x85ebca6b) >>> 0;
    h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35) >>> 0;
    whole = (whole << 32n) | BigInt((h ^ (h >>> 16)) >>> 0);
  }
  // version 8 (own scheme) and the variant of RFC 9562
  const version = (whole & ~(0xfn << 76n)) | (8n << 76n);
  const uuid = (version & ~(3n << 62n)) | (2n << 62n);
  return `2.25.${uuid}`;
}
