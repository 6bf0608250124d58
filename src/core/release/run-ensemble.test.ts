import { describe, expect, test } from 'vitest';
import { askReference } from '../../../test/support/release-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { uniformAt, normalAt } from '../math/random.ts';
import { planEnsemble } from './forecast-release.ts';
import { findBand } from './judge-verdict.ts';
import { REFERENCE_ROOTS } from './reference-roots.ts';
import { findQuantile, joinParts, keepTables, pickCell, runEnsemblePart } from './run-ensemble.ts';
import { DEFAULT_CHOICE, DEFAULT_SPREAD, sampleInputs, VARIABLES, WORLD_RANGES, makeReleaseInputs } from './sample-inputs.ts';

const plan = planEnsemble(askReference(REFERENCE_ROOTS.tapered));

describe('sampleInputs', () => {
  const draw = (seed: number, i: number) => sampleInputs(seed, i, DEFAULT_SPREAD, { ...DEFAULT_CHOICE, tension: 'neutral' });
  test('draws from the counter-based numbers of the reference', () => {
    expect(uniformAt(11, 0, 0)).toBe(0.5356334418756887);
    expectWithin(normalAt(11, 0, 0, 2.5), 0.0894388916895692, { relative: 2e-8, absolute: 0, from: 'two rational forms of the quantile, 1e-9 each, at a value of 0.09' });
    expectWithin(draw(11, 0).shift.annulus, 0.3 * 0.0894388916895692, { relative: 2e-8, absolute: 0, from: 'as above' });
    expect(new Set(Object.values(VARIABLES)).size).toBe(Object.values(VARIABLES).length);
  });
  test('keeps every row of the table of inputs: centre and spread over 4,000 draws', () => {
    const many = Array.from({ length: 4000 }, (_, i) => draw(3, i));
    const mean = (read: (s: (typeof many)[number]) => number): number => many.reduce((s, x) => s + read(x), 0) / many.length;
    const sd = (read: (s: (typeof many)[number]) => number): number => {
      const m = mean(read);
      return Math.sqrt(mean((s) => (read(s) - m) ** 2));
    };
    const about = (v: number, wanted: number, share = 0.05): void => expectWithin(v, wanted, { relative: share, absolute: 0.02, from: 'three standard errors of 4,000 draws, clipping at 2.5 (4 % of the spread)' });
    about(sd((s) => s.shift.annulus), 0.3);
    about(sd((s) => s.shift.outflow5), 0.4);
    about(sd((s) => s.shift.outflow10), 0.5);
    about(mean((s) => s.shift.annulus * s.shift.outflow5) / (0.3 * 0.4), 0.6, 0.1);
    about(sd((s) => s.shift.leaflets), 0.02, 0.06);
    about(sd((s) => s.startShiftMm), 1);
    about(sd((s) => Math.log(s.frameFactor)), 0.15);
    about(sd((s) => Math.log(s.zoneFactor.outflow)), 0.3);
    about(sd((s) => Math.log(s.zoneFactor.leaflet)), 0.4);
    about(sd((s) => Math.log(s.zoneFactor.calcium)), 0.5);
    about(mean((s) => s.loadingRatio), 1.25);
    about(mean((s) => s.catheterNPerMm), 1.15);
    about(mean((s) => s.dragN), 0.75);
    about(mean((s) => s.storedN), 1, 0.08);
    about(sd((s) => s.storedN), 1.5);
    about(mean((s) => s.biasMm), 0.75);
    about(mean((s) => s.diastolicN), -6.01);
    about(sd((s) => s.diastolicN), 1.2);
    about(mean((s) => s.obstructedN), 3);
    about(mean((s) => s.systolicGripRatio), 0.95);
    for (const s of many) {
      const inputs = makeReleaseInputs(s, 'slippery', 4, 120);
      const [low, high] = WORLD_RANGES.slippery.friction;
      expect(inputs.friction >= low && inputs.friction <= high).toBe(true);
      expect(Math.abs(s.startShiftMm)).toBeLessThanOrEqual(2.5);
    }
  });
  test('opens the leaflets by dilatation: 0.6 of narrowing and stiffness', () => {
    const plain = sampleInputs(5, 9, DEFAULT_SPREAD, DEFAULT_CHOICE);
    const dilated = sampleInputs(5, 9, DEFAULT_SPREAD, { ...DEFAULT_CHOICE, isPredilated: true });
    expectWithin(dilated.shift.leaflets + 0.07, 0.6 * (plain.shift.leaflets + 0.07), { relative: 1e-12, absolute: 0, from: 'rounding' });
    expectWithin(dilated.zoneFactor.leaflet, 0.6 * plain.zoneFactor.leaflet, { relative: 1e-12, absolute: 0, from: 'rounding' });
  });
});

describe('runEnsemblePart', () => {
  test('11 the same seed gives the same samples in any number, another seed others', () => {
    const six = runEnsemblePart(plan, 0, 6);
    const three = runEnsemblePart(plan, 0, 3);
    expect(six.movementMm.slice(0, three.movementMm.length)).toEqual(three.movementMm);
    expect(runEnsemblePart({ ...plan, seed: 12 }, 0, 3).movementMm).not.toEqual(three.movementMm);
  });
  test('gives the same answer whatever the split over workers, in whatever order the parts come', () => {
    const whole = runEnsemblePart(plan, 0, 14);
    const parts = [runEnsemblePart(plan, 9, 5), runEnsemblePart(plan, 0, 4), runEnsemblePart(plan, 4, 5)];
    expect(joinParts(parts)).toEqual(whole);
  });
  test('12 the band shrinks with the spread of the inputs and is nothing at none', () => {
    const width = (spread: number): number => {
      const part = runEnsemblePart({ ...plan, worlds: ['middle'], withUndamped: false, scale: { spread } }, 0, 60);
      const band = findBand(pickCell(part.movementMm, { ...plan, worlds: ['middle'] }, 0, 0));
      return band.high - band.low;
    };
    const widths = [1, 0.5, 0.25, 0].map(width);
    expect(widths[3]).toBe(0);
    for (let i = 1; i < widths.length; i++) expect(widths[i]!).toBeLessThanOrEqual(widths[i - 1]!);
    expect(widths[0]!).toBeGreaterThan(1);
  });
  test('kept tables answer another start, pace and tension exactly as new ones do', () => {
    const kept = keepTables(plan, 5);
    const other = { ...plan, startsMm: [2, 6], choice: { ...plan.choice, paceBpm: 180, tension: 'pulling' as const } };
    expect(runEnsemblePart(other, 0, 5, kept)).toEqual(runEnsemblePart(other, 0, 5));
  });
});

describe('findQuantile', () => {
  test('is linear between ranks and keeps an end that leaves the zone an end', () => {
    expect(findQuantile([3, 1, 2], 0.5)).toBe(2);
    expect(findQuantile([0, 10], 0.25)).toBe(2.5);
    expect(findQuantile([1, 2, Infinity], 1)).toBe(Infinity);
    expect(findQuantile([1, 2, Infinity], 0.9)).toBe(Infinity);
    expect(findQuantile([NaN, 4], 0.5)).toBe(4);
    expect(findQuantile([], 0.5)).toBeNaN();
  });
});
