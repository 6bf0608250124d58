import { randomInt } from 'node:crypto';
import { hashToken } from './secret-token.ts';

/** Without letters and figures that look alike: 0 O, 1 I L, 2 Z, 5 S, 8 B, U V. */
const SIGNS = '34679ACDEFGHJKMNPQRTWXY';
const LENGTH = 6;

/** How long a code may be typed, and how often one may be wrong. 23^6 = 148 million codes: all 60 tries hit one of 10 open ones with 4 in a million. */
export const PAIRING_LIFE_MS = 5 * 60_000;
export const PAIRING_TRIES = { fromHere: 10, fromAll: 60, seconds: 10 * 60 } as const;

/** A code to be read from the desk and typed with gloves on. */
export const makePairingCode = (): string => Array.from({ length: LENGTH }, () => SIGNS[randomInt(SIGNS.length)]!).join('');
/** As typed: any case, with or without blanks and dashes. null: no code. */
export function readPairingCode(typed: string): string | null {
  const code = typed.toUpperCase().replace(/[\s-]/g, '');
  return code.length === LENGTH && [...code].every((sign) => SIGNS.includes(sign)) ? code : null;
}
export const hashPairingCode = (code: string): string => hashToken(`pairing ${code}`);
