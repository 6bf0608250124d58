import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

/**
 * Password hashes by scrypt (RFC 7914). Cost N = 2^17, r = 8, p = 1 uses 128 MiB and some tenths of a second per check;
 * the parameters stand in the hash, so that they can be raised later and old hashes still be checked.
 * Shape    `scrypt$17$8$1$<salt>$<key>`, salt 16 bytes and key 32 bytes in base64url
 * Source   docs/decisions/0016; OWASP Password Storage Cheat Sheet (scrypt N = 2^17, r = 8, p = 1) [M]
 */
export interface PasswordCost { readonly log2N: number; readonly r: number; readonly p: number }
export const PASSWORD_COST: PasswordCost = { log2N: 17, r: 8, p: 1 };
const KEY_BYTES = 32;
const SHAPE = /^scrypt\$(\d{1,2})\$(\d{1,2})\$(\d{1,2})\$([\w-]{22})\$([\w-]{43})$/;

function deriveKey(password: string, salt: Buffer, { log2N, r, p }: PasswordCost): Promise<Buffer> {
  // The same letters typed on another keyboard may be composed differently (RFC 8265 asks for NFC).
  const text = password.normalize('NFC');
  return new Promise((resolve, reject) => {
    scrypt(text, salt, KEY_BYTES, { N: 2 ** log2N, r, p, maxmem: 256 * 2 ** log2N * r }, (problem, key) => (problem ? reject(problem) : resolve(key)));
  });
}

/** One check needs 128 MiB: they run one after another, and a crowd is turned away instead of filling the memory. */
export interface PasswordHasher {
  /** null: too many wait already. */
  hash(password: string): Promise<string | null>;
  /** `hash` null (no such person, or no password): takes the same time and is never right. */
  check(password: string, hash: string | null): Promise<boolean | null>;
}

export function makePasswordHasher(cost: PasswordCost = PASSWORD_COST, mostWaiting = 16): PasswordHasher {
  let last: Promise<unknown> = Promise.resolve();
  let waiting = 0;
  const queue = <T>(work: () => Promise<T>): Promise<T | null> => {
    if (waiting >= mostWaiting) return Promise.resolve(null);
    waiting += 1;
    const mine = last.then(work).finally(() => (waiting -= 1));
    last = mine.catch(() => null);
    return mine;
  };
  return {
    hash: (password) =>
      queue(async () => {
        const salt = randomBytes(16);
        const key = await deriveKey(password, salt, cost);
        return `scrypt$${cost.log2N}$${cost.r}$${cost.p}$${salt.toString('base64url')}$${key.toString('base64url')}`;
      }),
    check: (password, hash) =>
      queue(async () => {
        const [, log2N, r, p, salt, key] = SHAPE.exec(hash ?? '') ?? [];
        const stored: PasswordCost | null = salt === undefined ? null : { log2N: Number(log2N), r: Number(r), p: Number(p) };
        // A damaged or foreign hash must not choose a cost beyond ours.
        if (!stored || !key || stored.log2N > 20 || stored.log2N < 10 || stored.r > 16 || stored.p > 4 || stored.r < 1 || stored.p < 1) {
          await deriveKey(password, Buffer.alloc(16), cost);
          return false;
        }
        return timingSafeEqual(await deriveKey(password, Buffer.from(salt!, 'base64url'), stored), Buffer.from(key, 'base64url'));
      }),
  };
}
