import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';

/** 256 random bits, 43 letters that may stand in an address. */
export const makeSecretToken = (): string => randomBytes(32).toString('base64url');
export const hashToken = (token: string): string => createHash('sha256').update(token, 'utf8').digest('hex');

/** Equal or not, in a time that does not tell how much of the token was right. */
export function isSameToken(given: string, wanted: string): boolean {
  const digest = (text: string): Buffer => createHash('sha256').update(text, 'utf8').digest();
  return timingSafeEqual(digest(given), digest(wanted));
}
