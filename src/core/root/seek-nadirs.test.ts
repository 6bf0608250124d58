import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';
import { HINGE_BIAS_MM, type RootLook } from './locate-root.ts';
import { refineCrown } from './refine-crown.ts';
import { makeRootFrame } from './root-frame.ts';
import { seekNadirs, traceAttachment, traceOpening, type Nadir } from './seek-nadirs.ts';

const THIRD = (2 * Math.PI) / 3;
const CROWN: Crown = { nadirRad: [0.3, 0.3 + THIRD, 0.3 + 2 * THIRD], nadirMm: [0, 0, 0], commissureRad: [0.3 + THIRD / 2, 0.3 + 1.5 * THIRD, 0.3 + 2.5 * THIRD], commissureMm: [14, 14, 14] };
const hingeAt = (azimuthRad: number, heightMm: number): Hinge => ({ azimuthRad, heightMm, radiusMm: 12, heightSdMm: 0.15, radiusSdMm: 0.1, leafletAngleDeg: 40, leafletMm: 0.9, upperAngleRad: 0.5, upperBendPerMm: 0.04, misfit: 0.05, hiddenRatio: 0 });
const draw = (heightOf: (rad: number, i: number) => number): Hinge[] =>
  Array.from({ length: 48 }, (_, i) => hingeAt((2 * Math.PI * i) / 48, heightOf((2 * Math.PI * i) / 48, i)));
/** Way from the nearest of three cusp middles, rad. */
const fromMiddle = (rad: number): number => {
  const t = rad - 0.3 + THIRD / 2;
  return t - THIRD * Math.floor(t / THIRD) - THIRD / 2;
};
const offs = (nadirs: readonly Nadir[], wanted: readonly number[]): number[] =>
  nadirs.map((n, i) => 12 * Math.abs(Math.atan2(Math.sin(n.azimuthRad - wanted[i]!), Math.cos(n.azimuthRad - wanted[i]!))));

describe('seekNadirs', () => {
  test('gives back the nadirs of a crown of parabolas', () => {
    const nadirs = seekNadirs(draw((rad) => readCrown(CROWN, rad)), CROWN)!;
    for (const off of offs(nadirs, CROWN.nadirRad)) expect(off).toBeLessThan(0.15); // half a step of a degree, and the mean of 64 draws
    for (const n of nadirs) expectWithin(n.heightMm, 0, { relative: 0, absolute: 0.02, from: 'the waves have nothing to explain' });
  });
  test('finds the lowest point of an attachment that is no parabola, where the parabola fitted to it is 2 mm off', () => {
    // Flat in the middle, lowest 0.17 rad (2 mm) beside it: a U with a leaning floor.
    const leaning = (rad: number): number => {
      const t = fromMiddle(rad);
      return 14 * (t / (THIRD / 2)) ** 4 + 2.2 * (t - 0.17) ** 2;
    };
    const wanted = Array.from({ length: 2001 }, (_, i) => -1 + i / 1000).reduce((best, t) => (leaning(0.3 + t) < leaning(0.3 + best) ? t : best), 0);
    const nadirs = seekNadirs(draw(leaning), CROWN)!;
    // The crown given lies 2 mm off; on such a floor a tenth of a millimetre in height is half a millimetre along the wall.
    offs(nadirs, CROWN.nadirRad.map((v) => v + wanted)).forEach((off, i) => {
      expect(off).toBeLessThan(1.2);
      expect(off).toBeLessThan(2 * nadirs[i]!.alongSdMm);
    });
    for (const n of nadirs) expectWithin(n.heightMm, leaning(0.3 + wanted), { relative: 0, absolute: 0.15, from: 'waves of order 12 against a fourth power' });
  });
  test('is less sure of the place along the wall where the floor is flat, not of the height', () => {
    const [round, flat] = [2, 6].map((power) => {
      const hinges = draw((rad) => 14 * Math.abs(fromMiddle(rad) / (THIRD / 2)) ** power);
      return seekNadirs(hinges, refineCrown(hinges, CROWN).crown)!;
    });
    for (let i = 0; i < 3; i++) {
      expect(flat![i]!.alongSdMm).toBeGreaterThan(1.8 * round![i]!.alongSdMm);
      expect(flat![i]!.heightSdMm).toBeLessThan(0.3);
    }
  });
  test('states SDs that hold the error of noisy points', () => {
    let high = 0;
    let wide = 0;
    for (let n = 0; n < 12; n++) {
      const nadirs = seekNadirs(draw((rad, i) => readCrown(CROWN, rad) + 0.25 * normalAt(9, i, n)), CROWN)!;
      const along = offs(nadirs, CROWN.nadirRad);
      nadirs.forEach((nadir, i) => {
        if (Math.abs(nadir.heightMm) > 2 * nadir.heightSdMm) high++;
        if (along[i]! > 2 * nadir.alongSdMm) wide++;
      });
    }
    // Two of 36 lie beyond two SDs of a Gaussian; seven and more would be a chance of 0.3 %.
    expect(high).toBeLessThan(7);
    expect(wide).toBeLessThan(7);
  });
  test('is moved little by three neighbouring hinges that stand 2 mm too low, as beside a deposit', () => {
    const spoilt = draw((rad, i) => readCrown(CROWN, rad) - (i >= 4 && i < 7 ? 2 : 0));
    for (const n of seekNadirs(spoilt, CROWN)!) expectWithin(n.heightMm, 0, { relative: 0, absolute: 0.6, from: 'Student weights: less than a third of the 2 mm' });
  });
  test('takes no notice of fits that ended at their limit, 3.5 mm below the crown, beside a commissure', () => {
    const spoilt = draw((rad) => readCrown(CROWN, rad) - (Math.abs(rad - CROWN.commissureRad[0]!) < 0.4 ? 3.5 : 0));
    const nadirs = seekNadirs(spoilt, CROWN)!;
    for (const off of offs(nadirs, CROWN.nadirRad)) expect(off).toBeLessThan(0.3);
    for (const n of nadirs) expectWithin(n.heightMm, 0, { relative: 0, absolute: 0.05, from: 'nothing is left to explain' });
  });
  test('finds the same place in a frame that leans by 3 degrees: lowest along the normal of its own plane', () => {
    const lean = Math.tan(Math.PI / 60);
    const curve = (rad: number): number => readCrown(CROWN, rad);
    const straight = seekNadirs(draw(curve), CROWN)!;
    const leaning = seekNadirs(draw((rad) => curve(rad) + 12 * lean * Math.cos(rad)), { ...CROWN, nadirMm: CROWN.nadirRad.map((rad) => 12 * lean * Math.cos(rad)), commissureMm: CROWN.commissureRad.map((rad) => 14 + 12 * lean * Math.cos(rad)) })!;
    for (const off of offs(leaning, straight.map((n) => n.azimuthRad))) expect(off).toBeLessThan(0.3);
  });
  test('with fewer than eight trusted hinges says nothing', () => {
    const few = draw((rad) => readCrown(CROWN, rad)).map((h, i) => (i < 7 ? h : { ...h, misfit: 0.3 }));
    const faint = draw((rad) => readCrown(CROWN, rad)).map((h) => ({ ...h, misfit: 0.19 }));
    expect(seekNadirs(faint, CROWN)).not.toBeNull();
    expect(seekNadirs(few, CROWN)).toBeNull();
  });
});

describe('traceAttachment and traceOpening', () => {
  const frame = makeRootFrame([10, 20, 30], [0, 0, 1], [30, 20, 30]);
  const hinges = draw((rad) => readCrown(CROWN, rad)).map((h) => ({ ...h, upperAngleRad: 0.5 + 0.3 * Math.cos(h.azimuthRad) }));
  const look = { frame, hinges, crown: { crown: CROWN } } as unknown as RootLook;
  test('the attachment is the curve through the hinges, lowered by their offset, seen from another frame', () => {
    const raised = makeRootFrame([10, 20, 31], [0, 0, 1], [10, 40, 31]);
    const attachment = traceAttachment(look, raised)!;
    for (const rad of [0.1, 1.3, 2.9, 4.4, 6.2]) {
      expectWithin(attachment(rad), readCrown(CROWN, rad + Math.PI / 2) - 1 - HINGE_BIAS_MM, { relative: 0, absolute: 0.1, from: 'a curve in steps of a degree' });
    }
    expect(traceAttachment({ ...look, hinges: [] }, frame)).toBeNull();
  });
  test('the opening is the mean over the hinges near an azimuth', () => {
    const opening = traceOpening(look, frame);
    for (const rad of [0, 1, 3, 5]) expectWithin(opening(rad), 0.5 + 0.3 * Math.cos(rad), { relative: 0, absolute: 0.01, from: 'a cosine over 0.2 rad' });
    expect(traceOpening({ ...look, hinges: [] }, frame)(1)).toBe(0);
  });
});
