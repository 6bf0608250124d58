import { fail, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import type { StoreFailureCode } from './store-types.ts';

type Refused = { readonly ok: false; readonly failure: Failure<StoreFailureCode> };

/** SQLSTATE classes and socket errors that mean: no answer now, perhaps later. */
const AWAY = /^(08|57P0|53[34]|3D000$|28|25006$|58|XX00)/;
const SOCKET = new Set(['ECONNREFUSED', 'ECONNRESET', 'EPIPE', 'ETIMEDOUT', 'ENOTFOUND', 'EHOSTUNREACH', 'ENETUNREACH', 'EAI_AGAIN', 'ENOENT']);
const FULL = new Set(['ENOSPC', 'EDQUOT', '53100']);
const AGAIN = new Set(['40001', '40P01']);

/** Marks an error as "the engine is gone"; thrown by our own dialects. */
export class EngineGone extends Error {
  readonly code = 'EPIPE';
}

/** What an error of the engine or the disk means for the caller; null: a defect. */
export function readStoreFailure(problem: unknown): Refused | null {
  const { code = '', message = '' } = (problem ?? {}) as { code?: string; message?: string };
  if (FULL.has(code) || /no space left on device|disk quota/i.test(message)) return fail('store-full', STORE_EN.full, STORE_EN.fullNext);
  if (AWAY.test(code) || SOCKET.has(code) || /connection terminated|timeout exceeded when trying to connect|connection ended/i.test(message)) {
    return failUnreachable(/^[A-Z0-9]{5,14}$/.test(code) ? code : 'connection lost');
  }
  return null;
}

function failUnreachable(reason: string): Refused {
  return fail('store-unreachable', formatText(STORE_EN, 'unreachable', { reason }), STORE_EN.unreachableNext, { reason });
}

/** Runs one step of the store. What the engine refuses for reasons of its own becomes a failure; the rest is a defect and throws. */
export async function attempt<T>(run: () => Promise<Result<T, StoreFailureCode>>): Promise<Result<T, StoreFailureCode>> {
  for (let tries = 1; ; tries++) {
    try {
      return await run();
    } catch (problem) {
      if (AGAIN.has((problem as { code?: string }).code ?? '') && tries < 5) continue; // two writers met; the engine chose one
      const refused = readStoreFailure(problem);
      if (refused) return refused;
      throw problem;
    }
  }
}

/** Two rows of one key. */
export const isTaken = (problem: unknown): boolean => (problem as { code?: string } | null)?.code === '23505';
