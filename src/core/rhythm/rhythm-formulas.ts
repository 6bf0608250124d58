import { fail, succeed, type Result } from '../result.ts';

export type RhythmFormulaFailureCode = 'rr-not-positive' | 'qt-not-positive';

/** Heart rate of one RR interval, per minute: 60000 / RR (RH-10). In atrial fibrillation RR is the median. */
export function computeHeartRate(rrMs: number): Result<number, 'rr-not-positive'> {
  return rrMs > 0 && Number.isFinite(rrMs) ? succeed(60_000 / rrMs) : refuseRr();
}

/**
 * QT corrected for rate: Bazett QT / sqrt(RR), Fridericia QT / cbrt(RR), RR in s (RH-09).
 *
 * Units     ms in; ms out
 * Fails     rr-not-positive, qt-not-positive
 * Limit     not valid as it stands with a bundle branch block: `isBundleBlock` then says so in the answer
 */
export function computeCorrectedQt(
  qtMs: number,
  rrMs: number,
  options: { readonly isBundleBlock: boolean },
): Result<{ readonly bazettMs: number; readonly fridericiaMs: number; readonly isValid: boolean }, RhythmFormulaFailureCode> {
  if (!(rrMs > 0 && Number.isFinite(rrMs))) return refuseRr();
  if (!(qtMs > 0 && Number.isFinite(qtMs))) return fail('qt-not-positive', 'The QT interval is not above zero.', 'Enter it in milliseconds.');
  const rrS = rrMs / 1000;
  return succeed({ bazettMs: qtMs / Math.sqrt(rrS), fridericiaMs: qtMs / Math.cbrt(rrS), isValid: !options.isBundleBlock });
}

function refuseRr(): ReturnType<typeof fail<'rr-not-positive'>> {
  return fail('rr-not-positive', 'The time between two beats is not above zero.', 'Enter it in milliseconds.');
}
