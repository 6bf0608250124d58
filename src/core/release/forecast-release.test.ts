import { describe, expect, test } from 'vitest';
import { askReference, BARE, makeConeWall, makeTube, SOUND_EVIDENCE, tabulate } from '../../../test/support/release-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { concludeForecast, forecastRelease, listBlockers, measureRingError, planEnsemble, refineRings } from './forecast-release.ts';
import { joinWorlds, judgeMovement } from './judge-verdict.ts';
import { rankDrivers } from './rank-drivers.ts';
import { refuseHolding, refuseTension, refuseWorld } from './refuse-by-ensemble.ts';
import { refuseByEvidence, REFUSAL_CODES, type ReleaseEvidence } from './refuse-release.ts';
import { REFERENCE_ROOTS } from './reference-roots.ts';
import { runEnsemblePart } from './run-ensemble.ts';
import { DEFAULT_SPREAD, VARIABLES, NORMAL_CLIP } from './sample-inputs.ts';
import { normalAt } from '../math/random.ts';
import { settleRelease } from './settle-release.ts';
import { runRelease } from './stick-slip.ts';
import { compareWhatIf, makeWhatIfBase } from './what-if.ts';
import { WORLDS } from './release-types.ts';

describe('judgeMovement', () => {
  test.each([
    [-2, 0, 2, 'cannot say'], [-1, 0, 1.5, 'stays'], [-1, 2, 4, 'up'], [0, 1, 4, 'stays or up'], [-4, -2, 1, 'down'],
    [-4, -1, 1, 'stays or down'], [0, 3, Infinity, 'up'], [-Infinity, 0, Infinity, 'cannot say'], [NaN, NaN, NaN, 'cannot say'],
  ] as const)('%s %s %s is "%s"', (low, mid, high, wanted) => {
    expect(judgeMovement({ low, mid, high })).toBe(wanted);
  });
  test('worlds that contradict each other leave nothing to say', () => {
    expect(joinWorlds('stays or down', 'stays', 'up')).toBe('cannot say');
    expect(joinWorlds('stays', 'stays or up', 'up')).toBe('stays or up');
  });
});

describe('refusals: each of the fourteen rules fires with what would lift it', () => {
  const spread = DEFAULT_SPREAD;
  const codesOf = (change: Partial<ReleaseEvidence>, startMm = 4, s = spread) =>
    refuseByEvidence({ ...SOUND_EVIDENCE, ...change }, s, startMm).map((r) => r.code);
  test('sound evidence is not refused', () => {
    expect(codesOf({})).toEqual([]);
  });
  test.each<[number, Partial<ReleaseEvidence>, number?]>([
    [1, { measuredMm: [-9.9, 40] }], [1, { measuredMm: [-12, 11] }], [1, { largestGapDeg: 31 }], [1, { measuredMm: [NaN, 40] }],
    [2, { sliceMm: 1.25 }], [2, { hasMetal: true }], [2, { phaseDifferenceMm: 1.2 }], [2, { sliceMm: NaN }],
    [3, { anatomy: 'bicuspid' }], [3, { anatomy: 'pure regurgitation' }], [3, { anatomy: 'valve-in-valve' }], [3, { anatomy: 'mitral prosthesis' }],
    [11, {}, 12.5], [11, {}, -2.5], [11, {}, NaN], [11, { oversizeRatio: 0.04 }], [11, { oversizeRatio: 0.26 }], [11, { minOverMaxRatio: 0.69 }],
    [11, { bulgeMm: 5.1 }], [11, { steepRatio: 0.11 }],
    [12, { blocks: [{ widthDeg: 61, protrusionMm: 4.1, isOnCurtain: false }] }],
    [14, { angulationDeg: 60 }], [14, { coaxialityDeg: 16 }],
  ])('rule %d: %j %s', (rule, change, startMm) => {
    const found = refuseByEvidence({ ...SOUND_EVIDENCE, ...change }, spread, startMm ?? 4);
    expect(found.map((r) => r.code)).toEqual([REFUSAL_CODES[rule - 1]]);
    expect(found[0]!.next.length).toBeGreaterThan(20);
  });
  test('rule 2: a radius known to no better than 0.6 mm', () => {
    expect(codesOf({}, 4, { ...spread, outflow10Mm: 0.61 })).toEqual(['release-scan-too-coarse']);
  });
  test('rule 4: no bench curve, no newtons, but the direction stays', () => {
    const base = askReference(REFERENCE_ROOTS.straight, { releases: 10 });
    const generic = forecastRelease({ ...base, frame: { ...base.frame, forceSource: 'generic' } });
    expect(generic.driveN.value).toBeNull();
    expect(generic.sweep[0]!.worlds.middle.holdingMarginN.reasons[0]!.code).toBe('release-frame-without-bench');
    expect(generic.sweep[0]!.worlds.middle.movementMm).toEqual(forecastRelease(base).sweep[0]!.worlds.middle.movementMm);
  });
  test('rules 5 and 8: in the straight root the sign of the drive is open and 4 mm lies in the tipping band', () => {
    const f = forecastRelease(askReference(REFERENCE_ROOTS.straight, { releases: 50 }));
    const codes = f.refusals.map((r) => r.code);
    expect(codes).toContain('release-drive-sign-open');
    expect(codes).toContain('release-start-in-tipping-band');
    expect(f.answer === 'cannot say' || f.answer === 'stays').toBe(true);
  });
  test('rule 7: only needs clear of 0.05 to 0.40 speak about holding', () => {
    expect(refuseHolding({ low: 0.01, mid: 0.02, high: 0.04 })).toBeNull();
    expect(refuseHolding({ low: 0.41, mid: 0.5, high: 0.6 })).toBeNull();
    expect(refuseHolding({ low: 0.09, mid: 0.16, high: 0.25 })?.code).toBe('release-holding-friction-dominated');
  });
  test('rule 9: a band above 6 mm, or leaving both ways', () => {
    const wide = Float64Array.from({ length: 40 }, (_, i) => i / 4);
    expect(refuseWorld(wide.map((v) => 4 - v), wide).map((r) => r.code)).toContain('release-band-too-wide');
    const both = Float64Array.from({ length: 40 }, (_, i) => (i < 10 ? -Infinity : i > 30 ? Infinity : 0));
    expect(refuseWorld(both, both)[0]!.text).toContain('some downward');
  });
  test('rule 10: halves of the samples that disagree', () => {
    const split = Float64Array.from({ length: 80 }, (_, i) => (i % 2 === 0 ? 0 : 3));
    expect(refuseWorld(split, split.map((v) => 4 - v)).map((r) => r.code)).toEqual(['release-verdict-unstable']);
  });
  test('rule 10: a wall that the rings resolve badly', () => {
    const q = askReference(REFERENCE_ROOTS.straight);
    expect(listBlockers(q)).toEqual([]);
    const step = (size: number) => ({ ...q.basis.radius, slope: q.basis.radius.slope.map((v, i) => v + size * (Math.floor(i / 24) % 2 === 0 ? 1 : -1)) });
    const blocked = { ...q, basis: { ...q.basis, radius: step(0.15) } };
    expect(listBlockers(refineRings(blocked)).map((r) => r.code)).toEqual(['release-verdict-unstable']);
    // A small one is answered with rings half as far apart.
    const fine = refineRings({ ...q, basis: { ...q.basis, radius: step(0.005) } });
    expect(listBlockers(fine)).toEqual([]);
    expect(planEnsemble(fine).frame.ringMm).toHaveLength(91);
    expect(refineRings(fine)).toBe(fine);
    expect(planEnsemble(refineRings(q)).frame.ringMm).toHaveLength(46);
  });
  test('rule 13: pulling and pushing must say the same when the tension is unknown', () => {
    expect(refuseTension('stays', 'stays')).toBeNull();
    expect(refuseTension('up', 'stays')?.code).toBe('release-tension-unknown');
    const f = forecastRelease(askReference(REFERENCE_ROOTS.tapered, { releases: 24, choice: { ...askReference(REFERENCE_ROOTS.tapered).choice, tension: 'unknown' } }));
    expect(f.refusals.map((r) => r.code)).toContain('release-tension-unknown');
    expect(f.answer).toBe('cannot say');
  });
  test('a blocked forecast answers nothing and says why', () => {
    const f = forecastRelease(askReference(REFERENCE_ROOTS.straight, { evidence: { ...SOUND_EVIDENCE, anatomy: 'bicuspid' } }));
    expect(f.sweep).toEqual([]);
    expect(f.answer).toBe('cannot say');
    expect(f.frictionNeeded.value).toBeNull();
    expect(f.refusals.map((r) => r.code)).toEqual(['release-anatomy-outside-model']);
  });
});

describe('forecastRelease', () => {
  test('says the same twice, whole or in parts', () => {
    const q = askReference(REFERENCE_ROOTS.bulge, { releases: 12, sweepMm: [2, 6] });
    const f = forecastRelease(q);
    expect(forecastRelease(q)).toEqual(f);
    expect(concludeForecast(q, runEnsemblePart(planEnsemble(q), 0, 12))).toEqual(f);
  });
  test('a narrowing outflow drifts up where a widening one dives, nominally and without friction to speak of', () => {
    const move = (name: 'tapered' | 'flared'): number => {
      const q = askReference(REFERENCE_ROOTS[name]);
      const plan = { ...planEnsemble(q), worlds: ['slippery'] as const, scale: { spread: 0 } };
      return runEnsemblePart(plan, 0, 1).movementMm[0]!;
    };
    expect(move('tapered')).toBeGreaterThan(1.5);
    expect(move('flared')).toBeLessThan(-1.5);
  });
  test('a mirrored taper mirrors the move of an unloaded frame', () => {
    const tube = makeTube(13, 20);
    const inputs = { ...BARE, startMm: 10, friction: 0.04, catheterNPerMm: 1.3 };
    const end = (rad: number): number => runRelease(tabulate(tube, makeConeWall(11, rad)), inputs).depthMm - 10;
    // Unsheathed from the inflow, the frame itself is not symmetric: only the released frame mirrors.
    const t = tabulate(tube, makeConeWall(11, 0.06));
    const m = tabulate(tube, makeConeWall(11, -0.06));
    const at = t.ratios.length * t.positions;
    expectWithin(t.upN[at + 16]! - t.downN[at + 16]!, -(m.upN[at + 16]! - m.downN[at + 16]!), { relative: 1e-12, absolute: 0, from: 'rounding; wall mirrored about -10 mm' });
    expect(Math.sign(end(0.06))).toBe(-Math.sign(end(-0.06)));
  });
  test('gives no percentage anywhere but of geometry, and no non-finite number', () => {
    const f = forecastRelease(askReference(REFERENCE_ROOTS.flared, { releases: 20, sweepMm: [0, 8] }));
    expect(JSON.stringify(f)).not.toMatch(/risk|probab/i);
    const walk = (v: unknown): void => {
      if (typeof v === 'number') expect(Number.isFinite(v)).toBe(true);
      else if (v && typeof v === 'object') Object.values(v).forEach(walk);
    };
    walk(f);
    for (const world of WORLDS) expect(f.sweep.map((s) => s.worlds[world].answer)).toHaveLength(3);
    expect(f.recapture).toEqual({ unsheathedRatio: 0.8, uncoveredMm: 36 });
  });
  test('the ring guard is small on the reference roots', () => {
    expect(measureRingError(askReference(REFERENCE_ROOTS.bulge))).toBeLessThan(0.15);
  });
  test('names what would settle a refused answer, with the same draws', () => {
    const q = askReference(REFERENCE_ROOTS.straight, { releases: 20 });
    const forecast = forecastRelease(q);
    const settled = settleRelease(q, { ...forecast, answer: 'cannot say' }, 20);
    expect(settled.map((s) => s.measurement)).toContain('outflow radius at −5 and −10 mm to ± 0.2 mm');
    expect(settled.every((s) => s.isSettled === (s.answer !== 'cannot say'))).toBe(true);
    expect(settleRelease(q, { ...forecast, answer: 'stays' }, 20)).toEqual([]);
  });
});

describe('compareWhatIf', () => {
  test('an unchanged question changes nothing; a pull moves the frame up', () => {
    const q = askReference(REFERENCE_ROOTS.tapered);
    const base = makeWhatIfBase(q, 30);
    const same = compareWhatIf(base, { ...q });
    for (const world of WORLDS) expect(same.worlds[world]).toMatchObject({ changeMm: { low: 0, mid: 0, high: 0 }, isVisible: false, marginChangeN: 0 });
    const pulled = compareWhatIf(base, { ...q, choice: { ...q.choice, tension: 'pulling' } });
    expect(pulled.worlds.slippery.changeMm.high).toBeGreaterThan(0.5);
    expect(pulled.worlds.slippery.changeMm.low).toBeGreaterThanOrEqual(-1e-9);
    expect(pulled.worlds.slippery.isVisible).toBe(true);
    const wide = compareWhatIf(base, { ...q, choice: { ...q.choice, annulusShiftMm: 0.5 } });
    expect(wide.worlds.middle.marginChangeN).toBeLessThan(-1);
  });
});

describe('rankDrivers', () => {
  test('finds the shares of an additive truth', () => {
    const n = 500;
    const x = (i: number, v: number): number => normalAt(7, i, v, NORMAL_CLIP);
    const y = Float64Array.from({ length: n }, (_, i) => 2 * x(i, VARIABLES.start) + x(i, VARIABLES.frame));
    const { drivers, explainedRatio } = rankDrivers(y, 7);
    expect(drivers[0]!.input).toBe('start depth');
    expectWithin(drivers[0]!.shareRatio, 0.8, { relative: 0, absolute: 0.05, from: 'sampling of 500' });
    expectWithin(drivers[1]!.shareRatio, 0.2, { relative: 0, absolute: 0.05, from: 'sampling of 500' });
    expect(drivers[1]!.input).toBe('frame force');
    expectWithin(explainedRatio, 1, { relative: 0, absolute: 0.1, from: 'sampling of 500' });
  });
  test('names nothing from too few samples or without spread', () => {
    expect(rankDrivers(new Float64Array(50), 1).drivers).toEqual([]);
    expect(rankDrivers(new Float64Array(300), 1).drivers).toEqual([]);
  });
});
