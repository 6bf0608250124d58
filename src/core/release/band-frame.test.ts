import { describe, expect, it } from 'vitest';
import { askReference } from '../../../test/support/release-fixtures.ts';
import { bandInflatedFrame } from './band-frame.ts';
import { forecastRelease, planEnsemble } from './forecast-release.ts';
import { estimateInflatedFrame } from './inflated-frame.ts';
import { REFERENCE_ROOTS } from './reference-roots.ts';
import { combineWall, NOMINAL_WALL } from './wall-grid.ts';

const question = askReference(REFERENCE_ROOTS.straight, { sweepMm: [], releases: 40, startMm: 4 });

describe('the expected frame has a band', () => {
  it('that closes on the nominal frame when no input is uncertain', () => {
    const plan = { ...planEnsemble(question), scale: { spread: 0 } };
    const bands = bandInflatedFrame(plan, question.cusps, 0, [4, 4, 4, 4])!;
    const nominal = estimateInflatedFrame(question.frame, combineWall(question.basis, NOMINAL_WALL), 4, question.cusps);
    const { low, mid, high } = bands.inflow.meanDiameterMm;
    expect([low, high]).toEqual([mid, mid]);
    expect(Math.abs(mid - nominal.inflow.meanDiameterMm)).toBeLessThan(0.05); // lognormal stiffness: the centre of a draw is its median, not every factor 1
  });

  it('is ordered, holds the nominal frame, and leaves releases out that left the zone', () => {
    const { expectedFrame } = forecastRelease(question);
    const { value, low, high } = expectedFrame!.facts!.inflow.meanDiameterMm;
    expect(low!).toBeLessThan(value!);
    expect(high!).toBeGreaterThan(value!);
    expect(expectedFrame!.inflow.meanDiameterMm).toBeGreaterThan(low!);
    expect(expectedFrame!.inflow.meanDiameterMm).toBeLessThan(high!);
    expect(bandInflatedFrame(planEnsemble(question), question.cusps, 0, [NaN, 4, NaN, 4])).not.toBeNull();
    expect(bandInflatedFrame(planEnsemble(question), question.cusps, 0, [NaN, 4, NaN])).toBeNull();
  });

  it('opens a gap where the annulus is wider than the frame', () => {
    const wide = askReference(REFERENCE_ROOTS.straight, { sweepMm: [], releases: 40, startMm: 4 });
    const plan = planEnsemble({ ...wide, choice: { ...wide.choice, annulusShiftMm: 3 } });
    expect(bandInflatedFrame(plan, wide.cusps, 0, Array.from({ length: 40 }, () => 4))!.largestGapMm.mid).toBeGreaterThan(0.5);
  });
});
