import { createHash, randomUUID } from 'node:crypto';
import { formatCanonical } from '../../core/audit/format-canonical.ts';

type Env = Readonly<Record<string, string | undefined>>;

/** Now, ms since 1970; SOURCE_DATE_EPOCH (checked by readStamp) where it is set, so that the same words give the same bytes. */
export function readNowMs(env: Env = process.env): number {
  const epoch = env['SOURCE_DATE_EPOCH'];
  return epoch === undefined || epoch === '' ? Date.now() : Number(epoch) * 1000;
}

/** Number of a new case: random, or made from what it says where the time is set from outside. */
export function makeCaseId(said: object, env: Env = process.env): string {
  if (!env['SOURCE_DATE_EPOCH']) return randomUUID();
  const hash = createHash('sha256').update(formatCanonical(said)).digest('hex');
  return `case-${hash.slice(0, 24)}`;
}

export interface Moment {
  readonly monotonicMs: number;
  /** The wall clock as it stands. */
  readonly wallMs: number;
  /** Start of the process on the wall clock, and since then the monotonic clock: a wall clock that is set meanwhile moves no tap. */
  readonly steadyMs: number;
}
/** The clock of one process that logs. */
export function startClock(wallMs: () => number = readNowMs, monotonicMs: () => number = () => performance.now()): () => Moment {
  const began = { wall: wallMs(), monotonic: monotonicMs() };
  return () => {
    const monotonic = monotonicMs();
    return { monotonicMs: monotonic, wallMs: wallMs(), steadyMs: began.wall + (monotonic - began.monotonic) };
  };
}
