import { refuseFact, makeFact, type Fact } from '../units/fact.ts';
import { computeArIndexRatio } from './pressure-formulas.ts';
import type { PressureAnswer } from './pressure-types.ts';

/**
 * The answer with its AR index over the one before any balloon (HD-03), for a baseline that was measured apart, or later. The
 * ends of the band take both bands at their worst.
 *
 * Equation  index after / index before
 * Refuses   the baseline's reasons; baseline-not-above-zero: over a baseline whose band holds zero nothing is a ratio
 */
export function rateBaseline(answer: PressureAnswer, before: Fact | null): PressureAnswer {
  if (before === null) return answer;
  return { ...answer, leak: { ...answer.leak, arIndexRatio: rate(answer.leak.arIndex, before) } };
}

function rate(after: Fact, before: Fact): Fact {
  const { by, at } = after.source;
  const refuse = (reason: Fact['reasons'][number]): Fact => refuseFact('1', 'pressure/1', { by, at }, reason);
  const [first] = [...after.reasons, ...before.reasons];
  if (after.value === null || after.low === null || after.high === null || before.value === null || before.low === null || before.high === null) {
    return refuse(first ?? { code: 'not-measured', text: 'One of the two indices was not measured.', next: 'Measure both.' });
  }
  if (!(before.low > 0)) return refuse({ code: 'baseline-not-above-zero', text: 'The band of the index before any balloon holds zero.', next: 'Look at the recording before any balloon; read the index after release by itself.' });
  const ends = [after.low, after.high].flatMap((a) => [before.low!, before.high!].map((b) => computeArIndexRatio(a, b)));
  return makeFact(computeArIndexRatio(after.value, before.value), Math.min(...ends), Math.max(...ends), '1', 'pressure/1', [...after.source.from, ...before.source.from], { by, at }, [...after.reasons, ...before.reasons.filter((r) => !after.reasons.some((o) => o.code === r.code))]);
}
