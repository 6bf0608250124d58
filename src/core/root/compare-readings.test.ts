import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeExamplePlan } from '../../../test/support/example-plan.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { averageNadirs, compareReadings, farthestNadir, measureAgreement, type ReadPair } from './compare-readings.ts';
import type { RootSurvey } from './root-types.ts';

const ROUNDING: Tolerance = { relative: 1e-9, absolute: 1e-9, from: 'sums of tens of numbers, 2e-16 each, with margin' };
const root = makeExamplePlan().root!;
const shifted: RootSurvey = {
  ...root,
  basalPlane: { ...root.basalPlane, nadirsLps: { ...root.basalPlane.nadirsLps, L: [root.basalPlane.nadirsLps.L[0] + 3, root.basalPlane.nadirsLps.L[1], root.basalPlane.nadirsLps.L[2] + 4] } },
  basalRing: { ...root.basalRing, perimeterMm: { ...root.basalRing.perimeterMm, value: root.basalRing.perimeterMm.value! + 40 }, areaMm2: { ...root.basalRing.areaMm2, value: null } },
};
const agreed = (pairs: readonly ReadPair[]) => {
  const answer = measureAgreement(pairs);
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
};

describe('compareReadings', () => {
  test('a reading and itself do not differ', () => {
    const same = compareReadings(root, root);
    expect(same.nadirApartMm).toEqual({ R: 0, L: 0, N: 0 });
    expect(same.planeAngleDeg).toBeLessThan(1e-5); // arccos near 1 loses half the digits
    for (const d of same.differences) if (d.difference !== null) expect([d.difference, d.isWithinDoubt]).toEqual([0, true]);
  });
  test('says how far a nadir lies apart, which difference is beyond doubt and what was not measured', () => {
    const c = compareReadings(shifted, root);
    expectWithin(c.nadirApartMm.L, 5, ROUNDING);
    const of = (m: string) => c.differences.find((d) => d.measure === m)!;
    expectWithin(of('perimeterMm').difference!, 40, ROUNDING);
    expect(of('perimeterMm').isWithinDoubt).toBe(false);
    expect(of('areaMm2')).toMatchObject({ a: null, difference: null, isWithinDoubt: null });
  });
  test('turned round, the differences change their sign and nothing else', () => {
    const [ab, ba] = [compareReadings(shifted, root), compareReadings(root, shifted)];
    expect(ba.nadirApartMm).toEqual(ab.nadirApartMm);
    ab.differences.forEach((d, i) => {
      if (d.difference !== null) expectWithin(ba.differences[i]!.difference!, -d.difference, ROUNDING);
    });
  });
});

describe('averageNadirs', () => {
  test('is the middle of the readers, and each is half their distance from it', () => {
    const middle = averageNadirs([root.basalPlane.nadirsLps, shifted.basalPlane.nadirsLps])!;
    expectWithin(middle.L[0], root.basalPlane.nadirsLps.L[0] + 1.5, ROUNDING);
    expectWithin(farthestNadir([root.basalPlane.nadirsLps, shifted.basalPlane.nadirsLps], middle), 2.5, ROUNDING);
  });
  test('is nothing without a reader', () => expect(averageNadirs([])).toBeNull());
});

describe(`measureAgreement (seed ${seed})`, () => {
  test('a known set: differences 1, 2, 3', () => {
    const a = agreed([{ a: 11, b: 10 }, { a: 22, b: 20 }, { a: 33, b: 30 }]);
    expectWithin(a.bias.value, 2, ROUNDING);
    expectWithin(a.sd, 1, ROUNDING);
    expectWithin(a.upperLimit.value, 3.96, ROUNDING);
    expectWithin(a.lowerLimit.value, 0.04, ROUNDING);
    // t of 2 degrees 4.302652729911 over root 3, and times root(1/3 + 1.96^2 / 4)
    expectWithin(a.bias.high - 2, 4.302652729911275 / Math.sqrt(3), ROUNDING);
    expectWithin(a.upperLimit.high - 3.96, 4.302652729911275 * Math.sqrt(1 / 3 + 1.96 ** 2 / 4), ROUNDING);
    expectWithin(a.slope!.value, 1 / 10.5, ROUNDING);
  });
  test('the other way round, the bias changes its sign and the limits change places', () => {
    const value = fc.double({ min: 10, max: 100, noNaN: true });
    fc.assert(fc.property(fc.array(fc.record({ a: value, b: value }), { minLength: 3, maxLength: 40 }), (pairs) => {
      const [x, y] = [agreed(pairs), agreed(pairs.map(({ a, b }) => ({ a: b, b: a })))];
      expectWithin(y.bias.value, -x.bias.value, ROUNDING);
      expectWithin(y.upperLimit.value, -x.lowerLimit.value, ROUNDING);
      expectWithin(y.upperLimit.high, -x.lowerLimit.low, ROUNDING);
      expectWithin(y.sd, x.sd, ROUNDING);
    }), replay);
  });
  test('adding the same to both readers changes nothing; scaling scales', () => {
    const pairs = Array.from({ length: 12 }, (_, i) => ({ a: 24 + normalAt(1, i, 0), b: 24 + normalAt(1, i, 1) }));
    const x = agreed(pairs);
    expectWithin(agreed(pairs.map((p) => ({ a: p.a + 7, b: p.b + 7 }))).sd, x.sd, ROUNDING);
    expectWithin(agreed(pairs.map((p) => ({ a: 3 * p.a, b: 3 * p.b }))).upperLimit.high, 3 * x.upperLimit.high, ROUNDING);
  });
  test('its intervals hold the truth about as often as they say, over 2,000 drawn sets of 20', () => {
    let [bias, upper] = [0, 0];
    const sets = 2000;
    for (let k = 0; k < sets; k++) {
      const x = agreed(Array.from({ length: 20 }, (_, i) => ({ a: 24.3 + 0.8 * normalAt(k + 1, i, 0), b: 24 })));
      if (x.bias.low <= 0.3 && 0.3 <= x.bias.high) bias++;
      const truth = 0.3 + 1.96 * 0.8;
      if (x.upperLimit.low <= truth && truth <= x.upperLimit.high) upper++;
    }
    // 95 % of 2,000 has a standard deviation of 0.5 %; three of them, and the limits' interval is approximate by 1 %.
    expectWithin(bias / sets, 0.95, { relative: 0, absolute: 0.015, from: 'three SD of the count' });
    expectWithin(upper / sets, 0.95, { relative: 0, absolute: 0.025, from: 'three SD of the count and the approximation' });
  });
  test('refuses fewer than three pairs, and values that are none', () => {
    expect(measureAgreement([{ a: 1, b: 2 }, { a: 1, b: 2 }])).toMatchObject({ ok: false, failure: { code: 'agreement-too-few-pairs' } });
    expect(measureAgreement([{ a: 1, b: 2 }, { a: 1, b: 2 }, { a: 1, b: Number.NaN }])).toMatchObject({ ok: false, failure: { code: 'agreement-not-finite' } });
  });
  test('cases that are all alike carry no slope', () => {
    expect(agreed([{ a: 10, b: 10 }, { a: 10, b: 10 }, { a: 10, b: 10 }])).toMatchObject({ slope: null, sd: 0 });
  });
});
