import type { EchoLine } from '../case/fold-result.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { VerdictCase } from './assemble-verdict.ts';
import type { SeenLeak } from './compare-leak-sites.ts';
import { GRADE_WORDS, makeGradedWitness, type GradeWord } from './make-witness.ts';
import type { EchoSigns } from './read-room-signs.ts';
import type { LeakWitness } from './verdict-types.ts';

/** The newest echo as far as the verdict reads it. */
export interface EchoReading {
  readonly echoId: string;
  readonly witness: LeakWitness;
  readonly signs: EchoSigns;
  readonly seen: readonly SeenLeak[] | null;
}

/** The newest echo that was not withdrawn; null: none was begun. */
export function findNewestEcho({ state }: Pick<VerdictCase, 'state'>): EchoLine | null {
  const takenMs = (e: EchoLine): number => readInstantMs(e.note?.takenAt ?? e.takenAt);
  return state.result.echoes.filter((e) => e.withdrawn === null).reduce<EchoLine | null>((a, e) => (a === null || takenMs(e) >= takenMs(a) ? e : a), null);
}

/** The newest echo of a case, read; null: there is none. */
export function assembleEcho(c: VerdictCase): EchoReading | null {
  const line = findNewestEcho(c);
  if (line === null) return null;
  const read = (field: string): string | number | boolean | null => line.entries[field]?.value ?? null;
  const isWord = (v: unknown): v is GradeWord => typeof v === 'string' && Object.hasOwn(GRADE_WORDS, v);
  const [from, to] = [read('leak-from'), read('leak-to') ?? read('leak-from')];
  const rate = read('heart-rate');
  const who = {
    by: line.note?.by ?? Object.values(line.entries).at(-1)?.by ?? line.by, at: line.note?.takenAt ?? line.takenAt,
    heartRatePerMin: line.note?.heartRatePerMin ?? (typeof rate === 'number' ? rate : null), loadingNote: line.note?.loadingNote ?? null, from: [line.echoId],
  };
  const place = read('leak-place');
  const witness = isWord(from) && isWord(to) ? makeGradedWitness('echo', from, to, 'grade of the echo reader', who)
    : { kind: 'echo' as const, interval: null, isValid: false, method: 'echo', ...who, minutesAfterRelease: null, reasons: [{ code: 'echo-without-leak', text: 'Nothing of the leak is entered in the echo.', next: 'Enter a grade or what was measured of the leak.' }] };
  return { echoId: line.echoId, witness, signs: { place: typeof place === 'string' ? (place as EchoSigns['place']) : null, hasEffusion: read('effusion') as boolean | null }, seen: null };
}
