import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { cross, dot, norm } from '../math/vec3.ts';
import { cutFromLps, lpsFromCut } from './make-root-cuts.ts';
import { LEAST_ZOOM, moveInView, MOST_ZOOM, OPEN_POSE, placeAcross, placeAlong, towardViewer, zoomAbout, type ViewPose } from './place-view.ts';
import { cylinderFromLps, lpsFromCylinder, makeRootFrame } from './root-frame.ts';

const ROUNDING: Tolerance = { relative: 0, absolute: 1e-9, from: 'a few sums of hundreds of mm, 2e-16 each' };
const FRAME = makeRootFrame([10, -120, 340], [0.3, -0.4, 0.86], [30, -118, 342]);
const pose = fc.record({
  heightMm: fc.double({ min: -12, max: 30, noNaN: true }), turnDeg: fc.double({ min: -180, max: 180, noNaN: true }),
  zoom: fc.double({ min: LEAST_ZOOM, max: MOST_ZOOM, noNaN: true }), shiftMm: fc.tuple(fc.double({ min: -20, max: 20, noNaN: true }), fc.double({ min: -20, max: 20, noNaN: true })),
});
const place = { across: (p: ViewPose) => placeAcross(FRAME, p), along: (p: ViewPose) => placeAlong(FRAME, lpsFromCylinder(FRAME, { azimuthRad: 2, heightMm: 4, radiusMm: 12 }), p) };

describe(`placeAcross and placeAlong (seed ${seed})`, () => {
  test('across: the middle is the axis at its height, R on top, L left below, seen from the aorta', () => {
    const plane = placeAcross(FRAME, { ...OPEN_POSE, heightMm: 7 });
    const at = (azimuthRad: number) => cutFromLps(plane, lpsFromCylinder(FRAME, { azimuthRad, heightMm: 7, radiusMm: 10 }));
    expectWithin(at(0).at[0], 32, ROUNDING);
    expectWithin(at(0).at[1], 22, ROUNDING);
    expectWithin(at(0).offMm, 0, ROUNDING);
    expect(at(2).at[0]).toBeLessThan(32); // counter-clockwise seen from the aorta is to the left of the top
    expectWithin(dot(towardViewer(plane), FRAME.normalLps), 1, ROUNDING);
  });
  test('along: the point is on the right in its true radius, the aorta on top, the basal plane 40 mm down', () => {
    const through = lpsFromCylinder(FRAME, { azimuthRad: -1.1, heightMm: 6, radiusMm: 14 });
    const { at, offMm } = cutFromLps(placeAlong(FRAME, through, OPEN_POSE), through);
    expectWithin(at[0], 32 + 14, ROUNDING);
    expectWithin(at[1], 40 - 6, ROUNDING);
    expectWithin(offMm, 0, ROUNDING);
  });
  test('along, turned by the angle between two points, is the cut through the other one', () => {
    const [a, b] = [0.4, 1.7].map((azimuthRad) => lpsFromCylinder(FRAME, { azimuthRad, heightMm: 3, radiusMm: 9 })) as [[number, number, number], [number, number, number]];
    const turned = placeAlong(FRAME, a, { ...OPEN_POSE, turnDeg: (1.3 * 180) / Math.PI });
    const straight = placeAlong(FRAME, b, OPEN_POSE);
    for (let i = 0; i < 3; i++) expectWithin(turned.acrossLps[i]!, straight.acrossLps[i]!, ROUNDING);
    for (let i = 0; i < 3; i++) expectWithin(turned.originLps[i]!, straight.originLps[i]!, ROUNDING);
  });
  test('along through a point on the axis still gives a plane', () => {
    expectWithin(norm(placeAlong(FRAME, FRAME.originLps, OPEN_POSE).acrossLps), 1, ROUNDING);
  });
  test('every pose gives two unit vectors at right angles and a square', () => {
    fc.assert(fc.property(pose, fc.constantFrom('across' as const, 'along' as const), (p, kind) => {
      const plane = place[kind](p);
      expectWithin(norm(plane.acrossLps), 1, ROUNDING);
      expectWithin(norm(plane.downLps), 1, ROUNDING);
      expectWithin(dot(plane.acrossLps, plane.downLps), 0, ROUNDING);
      expectWithin(norm(cross(plane.acrossLps, plane.downLps)), 1, ROUNDING);
      expect(plane.widthMm).toBe(plane.heightMm);
    }), replay);
  });
});

describe(`zoomAbout (seed ${seed})`, () => {
  test('leaves the point of the patient under the pointer where it is', () => {
    fc.assert(fc.property(pose, fc.double({ min: 0.2, max: 5, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true }), (p, factor, x, y) => {
      const before = placeAcross(FRAME, p);
      const under = lpsFromCut(before, [x * before.widthMm, y * before.heightMm]);
      const after = placeAcross(FRAME, zoomAbout(p, factor, [x * before.widthMm, y * before.heightMm]));
      const { at } = cutFromLps(after, under);
      expectWithin(at[0] / after.widthMm, x, ROUNDING);
      expectWithin(at[1] / after.heightMm, y, ROUNDING);
    }), replay);
  });
  test('stops at its limits', () => {
    expect(zoomAbout(OPEN_POSE, 1e6, [10, 10]).zoom).toBe(MOST_ZOOM);
    expect(zoomAbout(OPEN_POSE, 1e-6, [10, 10]).zoom).toBe(LEAST_ZOOM);
    expect(zoomAbout({ ...OPEN_POSE, zoom: MOST_ZOOM }, 2, [10, 10])).toEqual({ ...OPEN_POSE, zoom: MOST_ZOOM });
  });
});

describe(`moveInView (seed ${seed})`, () => {
  test('moves a mark by what is asked in the picture and out of it, and by nothing else', () => {
    fc.assert(fc.property(pose, fc.tuple(fc.double({ min: -9, max: 9, noNaN: true }), fc.double({ min: -9, max: 9, noNaN: true })), fc.double({ min: -9, max: 9, noNaN: true }), (p, by, off) => {
      const plane = place.along(p);
      const mark = lpsFromCylinder(FRAME, { azimuthRad: 2.2, heightMm: 1, radiusMm: 11 });
      const [was, is] = [cutFromLps(plane, mark), cutFromLps(plane, moveInView(plane, mark, by, off))];
      expectWithin(is.at[0] - was.at[0], by[0], ROUNDING);
      expectWithin(is.at[1] - was.at[1], by[1], ROUNDING);
      expectWithin(is.offMm - was.offMm, off, ROUNDING);
    }), replay);
  });
  test('across the root it keeps the height of a mark', () => {
    const plane = placeAcross(FRAME, { ...OPEN_POSE, heightMm: 3 });
    const mark = lpsFromCylinder(FRAME, { azimuthRad: 1, heightMm: -0.7, radiusMm: 11 });
    expectWithin(cylinderFromLps(FRAME, moveInView(plane, mark, [2, -3])).heightMm, -0.7, ROUNDING);
  });
});
