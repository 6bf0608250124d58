import { describe, expect, test } from 'vitest';
import { BARE, makeBentWall, makeConeWall, makeCylinderWall, makeTube, readRoot, tabulate } from '../../../test/support/release-fixtures.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { evaluateContact } from './evaluate-contact.ts';
import { makeGenericFrame } from './frame-shape.ts';
import { REFERENCE_ROOTS, REFERENCE_ROOT_NAMES } from './reference-roots.ts';
import { computeLoads, findRest, LEAVES_DOWN, LEAVES_UP, readPacing, runRelease, type SlipLaw, type SlipState } from './stick-slip.ts';

const ROUNDING: Tolerance = { relative: 1e-12, absolute: 1e-12, from: 'closed form on linear tables' };
const law = (friction: number): SlipLaw => ({ friction, interlockN: 0, loadingRatio: 1 });
const FREE = 16;
const state = (s: Partial<SlipState>): SlipState => ({
  column: FREE, loadN: 0, gripRatio: 1, springNPerMm: 0, springZeroMm: 0, pullN: 0, ...s,
});

describe('verification of stick and slip (numbers of the reference)', () => {
  test('2 a cone holds just above mu = tan alpha and slides out just below', () => {
    const alpha = (8 * Math.PI) / 180;
    const t = tabulate(makeTube(13, 20), makeConeWall(8.5, alpha));
    expect(findRest(t, state({}), law(Math.tan(alpha) + 1e-6), -4, 'quasi-static')).toBe(-4);
    expect(findRest(t, state({}), law(Math.tan(alpha) - 1e-6), -4, 'quasi-static')).toBe(LEAVES_UP);
  });
  test('9 without friction, hysteresis and load the frame stops where the stored energy is least', () => {
    const tube = makeTube(13, 20);
    const basin = makeBentWall(12, -0.008, 3.2);
    const z = findRest(tabulate(tube, basin), state({}), law(0), -10.3, 'quasi-static');
    const energy = (at: number): number => evaluateContact(tube, basin, at, 1).energyNMm;
    let [low, high] = [-12, -3];
    for (let k = 0; k < 60; k++) {
      const a = low + (high - low) / 3;
      const b = high - (high - low) / 3;
      if (energy(a) < energy(b)) high = b;
      else low = a;
    }
    expectWithin(z, (low + high) / 2, { relative: 0, absolute: 5e-4, from: 'half the last digit of the reference, 0.000 mm' });
  });
  test('10 a spring alone gives way by P / k_c, with friction by (P - mu G) / k_c', () => {
    const tube = makeTube(13, 20);
    const nothing = tabulate(tube, makeCylinderWall(100));
    expectWithin(findRest(nothing, state({ loadN: 2, springNPerMm: 1.6, springZeroMm: -4 }), law(0.3), -4, 'quasi-static'), -4 + 2 / 1.6, ROUNDING);
    const tight = tabulate(tube, makeCylinderWall(12.9));
    const grip = tight.gripN[FREE * tight.positions]!;
    expect(grip).toBeGreaterThan(1);
    const rest = findRest(tight, state({ loadN: 3, springNPerMm: 1.6, springZeroMm: -4 }), law(0.2), -4, 'quasi-static');
    expectWithin(rest, -4 + (3 - 0.2 * grip) / 1.6, { relative: 1e-11, absolute: 0, from: 'sum of 500 equal patches' });
  });
  test('14 an alternating load in a cylinder ends in its limit cycle at once, and does not creep when friction holds both', () => {
    const t = tabulate(makeTube(13, 20), makeCylinderWall(12.9));
    const grip = t.gripN[FREE * t.positions]!;
    const mu = 0.2;
    const spring = { springNPerMm: 1.2, springZeroMm: -4 };
    const [pushUp, pushDown] = [mu * grip + 2, -(mu * grip + 3)];
    let z = -4;
    for (let beat = 0; beat < 3; beat++) {
      z = findRest(t, state({ loadN: pushUp, ...spring }), law(mu), z, 'quasi-static');
      expectWithin(z, -4 + 2 / 1.2, { relative: 1e-11, absolute: 0, from: 'sum of 500 equal patches' });
      z = findRest(t, state({ loadN: pushDown, ...spring }), law(mu), z, 'quasi-static');
      expectWithin(z, -4 - 3 / 1.2, { relative: 1e-11, absolute: 0, from: 'sum of 500 equal patches' });
    }
    let still = -4;
    for (let beat = 0; beat < 5; beat++) {
      still = findRest(t, state({ loadN: 0.9 * mu * grip, ...spring }), law(mu), still, 'quasi-static');
      still = findRest(t, state({ loadN: -0.9 * mu * grip, ...spring }), law(mu), still, 'quasi-static');
    }
    expect(still).toBe(-4);
  });
  test('17 on top of a throat a thousandth of a millimetre decides the exit', () => {
    const t = tabulate(makeTube(13, 20), makeBentWall(10.5, 0.01, 0));
    expect(findRest(t, state({}), law(0), -10 + 1e-3, 'quasi-static')).toBe(LEAVES_UP);
    const down = findRest(t, state({}), law(0), -10 - 1e-3, 'quasi-static');
    expect(down === LEAVES_DOWN).toBe(true);
  });
  test.each(REFERENCE_ROOT_NAMES)('19 with mu = 5 nothing moves under any load: %s', (name) => {
    const t = tabulate(makeGenericFrame(), readRoot(REFERENCE_ROOTS[name]));
    // Unsheathed by a quarter nothing touches yet; the catheter then holds the start exactly.
    const inputs = { ...BARE, startMm: 4, friction: 5, loadingRatio: 1.25, catheterNPerMm: 1, systolicN: 0.6, diastolicN: -6.01, obstructedN: 3, paceBpm: 120 };
    expect(runRelease(t, inputs).depthMm).toBe(4);
    expect(runRelease(t, inputs, 'undamped').depthMm).toBe(4);
  });
  test('21 an undamped slide on a spring goes twice as far as the quasi-static one', () => {
    const t = tabulate(makeTube(13, 20), makeCylinderWall(12.9));
    const grip = t.gripN[FREE * t.positions]!;
    for (const sign of [1, -1]) {
      const s = state({ loadN: sign * (0.2 * grip + 2), springNPerMm: 1.3, springZeroMm: -4 });
      const exact: Tolerance = { relative: 1e-11, absolute: 0, from: 'sum of 500 equal patches' };
      expectWithin(findRest(t, s, law(0.2), -4, 'undamped'), -4 + (sign * 2 * 2) / 1.3, exact);
      expectWithin(findRest(t, s, law(0.2), -4, 'quasi-static'), -4 + (sign * 2) / 1.3, exact);
    }
  });
});

describe('loads and pacing', () => {
  test('are the table of the reference at its rates and lie between its rows elsewhere', () => {
    expect(readPacing(70)).toEqual({ systole: 1, diastole: 1 });
    expect(readPacing(120)).toEqual({ systole: 0.7, diastole: 0.9 });
    expect(readPacing(180)).toEqual({ systole: 0.15, diastole: 0.6 });
    expect(readPacing(250)).toEqual({ systole: 0.05, diastole: 0.5 });
    expectWithin(readPacing(140).systole, 0.5, ROUNDING);
  });
  test('obstruct only while the frame flares, and act in full once it is out', () => {
    const inputs = { ...BARE, systolicN: 0.6, diastolicN: -6.01, obstructedN: 3 };
    expect(computeLoads(inputs, 0.35)).toEqual({ systoleN: 0, diastoleN: -0 });
    expectWithin(computeLoads(inputs, 0.6).systoleN, 3, ROUNDING);
    expect(computeLoads(inputs, 1)).toEqual({ systoleN: 0.6, diastoleN: -6.01 });
  });
});
