import { describe, expect, test } from 'vitest';
import { makeBentWall, makeConeWall, makeCylinderWall, makeTube, readRoot, tabulate } from '../../../test/support/release-fixtures.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { computeExactHold, computePressure, joinSprings } from './contact-law.ts';
import { evaluateContact } from './evaluate-contact.ts';
import { makeGenericFrame } from './frame-shape.ts';
import { REFERENCE_ROOTS, REFERENCE_ROOT_NAMES } from './reference-roots.ts';
import type { ContactSurface } from './release-types.ts';
import { tabulateRelease, makeReleaseTables } from './tabulate-release.ts';
import { sizeWallGrid, tabulateWall } from './wall-grid.ts';

const ROUNDING: Tolerance = { relative: 1e-12, absolute: 1e-11, from: '500 sums x 2.2e-16 x margin' };
const ENERGY = 1e-6; // of the grip: the project's promise (mechanics 5, test 4)
const ALPHA = (8 * Math.PI) / 180;

const turn = (surface: ContactSurface, rad: number): ContactSurface => (s, azimuth, out) => surface(s, azimuth - rad, out);

describe('verification of contact, drive and grip (numbers of the reference)', () => {
  test('1 a cylinder drives nowhere and grips 2 pi r L p', () => {
    const tube = makeTube(13, 20);
    for (const z of [-17.3, -4, 6.1]) {
      const sum = evaluateContact(tube, makeCylinderWall(11.5), z, 1);
      expect(sum.driveN).toBe(0);
      const p = computePressure(joinSprings(0.1, 0.14), 1.5, 0.2);
      expectWithin(sum.gripN, 2 * Math.PI * 13 * 20 * p, ROUNDING);
      expectWithin(sum.gripN, 99.438, { relative: 0, absolute: 5e-4, from: 'half the last digit of the reference' });
      expect(evaluateContact(tube, makeCylinderWall(11.5), z, 0.6).driveN).toBe(0);
    }
  });
  test('2 a cone drives with tan alpha times the grip', () => {
    const sum = evaluateContact(makeTube(13, 20), makeConeWall(9, ALPHA), -2, 1);
    expectWithin(sum.driveN / sum.gripN, Math.tan(ALPHA), ROUNDING);
  });
  test('3 a symmetric throat balances a centred frame, and mirrors it on both sides', () => {
    const tube = makeTube(13, 20);
    const throat = makeBentWall(10.5, 0.01, 0);
    expectWithin(evaluateContact(tube, throat, -10, 1).driveN, 0, ROUNDING);
    for (const off of [0.7, 2.5]) {
      const up = evaluateContact(tube, throat, -10 + off, 1).driveN;
      expect(Math.abs(up)).toBeGreaterThan(0.1);
      expectWithin(evaluateContact(tube, throat, -10 - off, 1).driveN, -up, ROUNDING);
    }
  });
  test.each(REFERENCE_ROOT_NAMES)('4 the drive is the slope of the stored energy: %s', (name) => {
    const frame = makeGenericFrame();
    const surface = readRoot(REFERENCE_ROOTS[name]);
    const h = 1e-4;
    for (const depth of [1.3, 4.2, 7.7]) {
      for (const ratio of [0.6, 1]) {
        const sum = evaluateContact(frame, surface, -depth, ratio);
        const slope =
          (evaluateContact(frame, surface, -depth + h, ratio).energyNMm - evaluateContact(frame, surface, -depth - h, ratio).energyNMm) / (2 * h);
        expect(Math.abs(-slope - sum.driveN) / sum.gripN).toBeLessThanOrEqual(ENERGY);
      }
    }
  });
  test('5 turning the root changes nothing', () => {
    const frame = makeGenericFrame();
    const root = readRoot(REFERENCE_ROOTS.calcium);
    const base = evaluateContact(frame, root, -4, 1);
    const sector = (2 * Math.PI) / 24;
    expectWithin(evaluateContact(frame, turn(root, 3 * sector), -4, 1).gripN, base.gripN, ROUNDING);
    expectWithin(evaluateContact(frame, turn(root, 3 * sector), -4, 1).driveN, base.driveN, ROUNDING);
    const smooth: Tolerance = { relative: 0, absolute: 1e-4 * base.gripN, from: '1e-4 of the grip, promised' };
    const off = evaluateContact(frame, turn(root, (7.3 * Math.PI) / 180), -4, 1);
    expectWithin(off.gripN, base.gripN, smooth);
    expectWithin(off.driveN, base.driveN, smooth);
    const fine = evaluateContact(frame, root, -4, 1, { sectors: 144 });
    expectWithin(fine.gripN, base.gripN, smooth);
    expectWithin(fine.driveN, base.driveN, smooth);
  });
  test('6 a mirrored taper mirrors the drive and keeps the grip', () => {
    const tube = makeTube(13, 20);
    const up = evaluateContact(tube, makeConeWall(11, 0.05), -10, 1);
    const down = evaluateContact(tube, makeConeWall(11, -0.05), -10, 1);
    expectWithin(down.driveN, -up.driveN, ROUNDING);
    expectWithin(down.gripN, up.gripN, ROUNDING);
  });
  test('7 stiffer by a factor everywhere is stronger by that factor everywhere', () => {
    const frame = makeGenericFrame();
    const root = readRoot(REFERENCE_ROOTS.calcium);
    const c = 1.7;
    const hard: ContactSurface = (s, azimuth, out) => {
      root(s, azimuth, out);
      out.stiffnessNPerMm3 *= c;
      out.stiffnessSlope *= c;
    };
    const hardFrame = { ...frame, stiffnessNPerMm3: frame.stiffnessNPerMm3.map((k) => k * c), plateauNPerMm2: frame.plateauNPerMm2 * c };
    const a = evaluateContact(frame, root, -4, 1);
    const b = evaluateContact(hardFrame, hard, -4, 1);
    expectWithin(b.energyNMm, c * a.energyNMm, ROUNDING);
    expectWithin(b.driveN, c * a.driveN, ROUNDING);
    expectWithin(b.gripN, c * a.gripN, ROUNDING);
  });
  test('8 halving the ring distance quarters the error', () => {
    const energy = (step: number): number => {
      const radius = (mm: number): number => 13 - 0.9 * Math.sin((Math.PI * mm) / 88) ** 2;
      const tube = makeTube(13, 44, 0.1, step);
      const frame = { ...tube, freeRadiusMm: tube.ringMm.map(radius) };
      return evaluateContact(frame, makeConeWall(9.5, 0.03), -4, 1).energyNMm;
    };
    const [coarse, middle, fine] = [energy(4), energy(2), energy(1)];
    const order = Math.log2((coarse - middle) / (middle - fine));
    expectWithin(order, 2, { relative: 0, absolute: 0.02, from: 'fourth-order term of the trapezoid rule at 4 mm' });
  });
  test('13 hysteresis only widens the band: D_dn - D_up = (h - 1)(D+ + D-)', () => {
    const sum = evaluateContact(makeGenericFrame(), readRoot(REFERENCE_ROOTS.bulge), -4, 1);
    for (const h of [1, 1.25, 1.5]) {
      const wide = h * sum.upN - sum.downN - (sum.upN - h * sum.downN);
      expectWithin(wide, (h - 1) * (sum.upN + sum.downN), ROUNDING);
      expect(wide).toBeGreaterThanOrEqual(0);
    }
  });
  test('15 an ellipse of the same mean radius grips alike while everything touches and the law is linear', () => {
    const stiff = makeTube(13, 20, 0.1, 1, 1e12);
    const grip = (e: number): number =>
      evaluateContact(stiff, (_s, azimuth, out) => {
        out.radiusMm = 11 * (1 + e * Math.cos(2 * azimuth));
        out.radiusSlope = 0;
        out.stiffnessNPerMm3 = 0.14;
        out.stiffnessSlope = 0;
      }, -4, 1).gripN;
    expectWithin(grip(0.1), grip(0), { relative: 1e-10, absolute: 0, from: 'the plateau of 1e12 stands for none' });
  });
  test('16 a wire that pushes the frame aside changes neither grip nor drive of a cylinder with a linear law', () => {
    const stiff = makeTube(13, 20, 0.1, 1, 1e12);
    const centred = evaluateContact(stiff, makeCylinderWall(11.5), -4, 1);
    const pushed = evaluateContact(stiff, makeCylinderWall(11.5), -4, 1, { biasMm: 1.2, biasAzimuthRad: 0.4 });
    expectWithin(pushed.gripN, centred.gripN, { relative: 1e-10, absolute: 0, from: 'the plateau of 1e12 stands for none' });
    expect(pushed.driveN).toBe(0);
  });
  test('18 the linear wedge holds 1 + mu tan alpha times what the exact one does', () => {
    for (const [mu, t] of [[0.3, 0.2], [0.1, 0.05]] as const) {
      const ratio = (40 * (mu - t)) / computeExactHold(40, mu, t);
      expectWithin(ratio, 1 + mu * t, ROUNDING);
      expectWithin(40 * Math.tan(Math.atan(mu) - Math.atan(t)), computeExactHold(40, mu, t), ROUNDING);
    }
  });
  test('20 the 0.5 mm tables miss the drive by no more than 0.25 N in the bulged root', () => {
    const frame = makeGenericFrame();
    const root = readRoot(REFERENCE_ROOTS.bulge);
    const t = tabulate(frame, root);
    let worst = 0;
    for (let z = -14; z <= 2; z += 0.05) {
      const place = (z - t.lowMm) / t.stepMm;
      const p = Math.floor(place);
      const at = t.ratios.length * t.positions + p;
      const node = (k: number): number => t.upN[at + k]! - t.downN[at + k]!;
      const between = node(0) + (place - p) * (node(1) - node(0));
      worst = Math.max(worst, Math.abs(between - evaluateContact(frame, root, z, 1).driveN));
    }
    expect(worst).toBeGreaterThan(0);
    expect(worst).toBeLessThanOrEqual(0.25);
  });
});

describe('tabulateRelease', () => {
  test.each(REFERENCE_ROOT_NAMES)('is the term-by-term sum at every unsheathing, with and without wire bias: %s', (name) => {
    const frame = makeGenericFrame();
    const root = readRoot(REFERENCE_ROOTS[name]);
    const wall = tabulateWall(root, sizeWallGrid(frame.heightMm));
    const bias = { biasMm: 1.1, biasAzimuthRad: 0.7 };
    const t = tabulateRelease(wall, { frame, frameFactor: 1, ...bias }, makeReleaseTables());
    for (const [c, p] of [[0, 10], [6, 28], [12, 20], [15, 28], [16, 28], [16, 3], [15, 56]] as const) {
      const isFree = c === t.ratios.length;
      const sum = evaluateContact(frame, root, t.lowMm + p * t.stepMm, isFree ? 1 : t.ratios[c]!, isFree ? {} : bias);
      const at = c * t.positions + p;
      expectWithin(t.gripN[at]!, sum.gripN, ROUNDING);
      expectWithin(t.upN[at]!, sum.upN, ROUNDING);
      expectWithin(t.downN[at]!, sum.downN, ROUNDING);
    }
  });
});
