import type { EchoLine } from '../case/fold-result.ts';
import { isEchoField, type EchoEntries } from '../echo/echo-fields.ts';
import type { EchoAnswer, EchoContext } from '../echo/echo-types.ts';
import { makeEchoWitness } from '../echo/make-echo-witness.ts';
import { measureEcho } from '../echo/measure-echo.ts';
import { readHalfWidths } from '../echo/read-half-widths.ts';
import { readRootContext } from '../echo/read-root-context.ts';
import type { PressureAnswer } from '../haemodynamics/pressure-types.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { SeenLeak } from './compare-leak-sites.ts';
import type { WitnessCircumstance } from './make-witness.ts';
import type { EchoSigns } from './read-room-signs.ts';
import type { VerdictCase } from './verdict-case.ts';
import type { LeakWitness } from './verdict-types.ts';

/** The newest echo as far as the verdict reads it. */
export interface EchoReading {
  readonly echoId: string;
  readonly answer: EchoAnswer;
  readonly witness: LeakWitness;
  readonly signs: EchoSigns;
  readonly seen: readonly SeenLeak[] | null;
}

/** The newest echo that was not withdrawn; null: none was begun. */
export function findNewestEcho({ state }: Pick<VerdictCase, 'state'>): EchoLine | null {
  const takenMs = (e: EchoLine): number => readInstantMs(e.note?.takenAt ?? e.takenAt);
  return state.result.echoes.filter((e) => e.withdrawn === null).reduce<EchoLine | null>((a, e) => (a === null || takenMs(e) >= takenMs(a) ? e : a), null);
}

/**
 * The newest echo of a case, measured and as a witness; null: there is none. Height and weight are those of the referral, the
 * junction and commissures those of the plan, the gradient by catheter that of the pressures.
 * Fails    never
 */
export function assembleEcho(c: VerdictCase, pressure: PressureAnswer | null): EchoReading | null {
  const line = findNewestEcho(c);
  if (line === null) return null;
  const entries = Object.fromEntries(Object.entries(line.entries).filter(([code]) => isEchoField(code)).map(([code, { value }]) => [code, value])) as EchoEntries;
  const who: WitnessCircumstance = {
    by: line.note?.by ?? Object.values(line.entries).reduce<EchoLine['entries'][string] | null>((a, e) => (a === null || e.seq > a.seq ? e : a), null)?.by ?? line.by,
    at: line.note?.takenAt ?? line.takenAt, heartRatePerMin: line.note?.heartRatePerMin ?? null, loadingNote: line.note?.loadingNote ?? null, from: [line.echoId],
  };
  const answer = measureEcho(entries, readContext(c, line, pressure), c.rules, { by: who.by, at: who.at });
  return {
    echoId: line.echoId, answer, witness: makeEchoWitness(answer, who, c.rules), seen: answer.seen,
    signs: { place: answer.leak.place, hasEffusion: answer.ventricle.hasEffusion },
  };
}

function readContext({ state, frozen, plan }: VerdictCase, line: EchoLine, pressure: PressureAnswer | null): EchoContext {
  const number = (field: string): number | null => {
    const value = state.referral[field]?.value;
    return typeof value === 'number' ? value : null;
  };
  const root = (frozen?.plan ?? plan)?.root ?? null;
  const gradient = pressure?.gradients.meanMmHg ?? null;
  return {
    heightCm: number('body.heightCm'), weightKg: number('body.weightKg'), ...readRootContext(root),
    catheterMeanGradient: gradient?.value == null ? null : gradient, halfWidths: readHalfWidths(line),
  };
}
