const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Base64 text of bytes, padded with "=" (RFC 4648 section 4). */
export function encodeBase64(bytes: Uint8Array): string {
  const parts: string[] = [];
  for (let at = 0; at < bytes.length; at += 3) {
    const isTwo = at + 1 < bytes.length;
    const isThree = at + 2 < bytes.length;
    const word = (bytes[at]! << 16) | ((isTwo ? bytes[at + 1]! : 0) << 8) | (isThree ? bytes[at + 2]! : 0);
    parts.push(
      ALPHABET[word >> 18]! + ALPHABET[(word >> 12) & 63]! +
        (isTwo ? ALPHABET[(word >> 6) & 63]! : '=') + (isThree ? ALPHABET[word & 63]! : '='),
    );
  }
  return parts.join('');
}
