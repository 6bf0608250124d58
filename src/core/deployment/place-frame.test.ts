import { describe, expect, test } from 'vitest';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { TRAINING_TABLE } from '../device/training-table.ts';
import { cylinderFromLps, makeRootFrame } from '../root/root-frame.ts';
import type { RootMap } from '../root/root-types.ts';
import { measureFreeRadius } from './free-frame.ts';
import { placeFrame, readMapRadius } from './place-frame.ts';

const FLOAT32: Tolerance = { relative: 0, absolute: 1e-3, from: 'points are kept as 32 bit numbers of some hundreds of mm' };
const ROUNDING: Tolerance = { relative: 0, absolute: 1e-9, from: 'a few sums of tens of mm' };
const FRAME = makeRootFrame([10, -120, 340], [0.3, -0.4, 0.86]);
const DEVICE = TRAINING_TABLE.devices[0]!.sizes[0]!.frame;
const drawMap = (radiusMm: (deg: number, heightMm: number) => number | null): RootMap => {
  const azimuthDeg = Array.from({ length: 36 }, (_, i) => 10 * i);
  const heightMm = Array.from({ length: 41 }, (_, i) => i - 15);
  return { azimuthDeg, heightMm, radiusMm: heightMm.map((h) => azimuthDeg.map((a) => radiusMm(a, h))), calciumHu: [] };
};
const readPoints = (mesh: { readonly pointsLpsMm: Float32Array }) =>
  Array.from({ length: mesh.pointsLpsMm.length / 3 }, (_, i) => cylinderFromLps(FRAME, [mesh.pointsLpsMm[3 * i]!, mesh.pointsLpsMm[3 * i + 1]!, mesh.pointsLpsMm[3 * i + 2]!]));

describe('placeFrame', () => {
  test('without a wall it is the free frame, its inflow edge at the depth below the plane', () => {
    const points = readPoints(placeFrame(DEVICE, 4, FRAME, drawMap(() => null))!);
    expectWithin(Math.min(...points.map((p) => p.heightMm)), -4, FLOAT32);
    expectWithin(Math.max(...points.map((p) => p.heightMm)), DEVICE.heightMm - 4, FLOAT32);
    for (const p of points) expectWithin(p.radiusMm, measureFreeRadius(DEVICE, Math.min(DEVICE.heightMm, Math.max(0, p.heightMm + 4))), { ...FLOAT32, absolute: 5e-3, from: 'slope of the frame times the height kept as 32 bit number' });
  });
  test('is never wider than the wall', () => {
    for (const p of readPoints(placeFrame(DEVICE, 4, FRAME, drawMap(() => 8))!)) if (p.heightMm > -15 && p.heightMm < 25) expect(p.radiusMm).toBeLessThanOrEqual(8 + 1e-3);
  });
  test('deeper by 3 mm is the same net 3 mm lower', () => {
    const [a, b] = [4, 7].map((depth) => readPoints(placeFrame(DEVICE, depth, FRAME, drawMap(() => null))!));
    a!.forEach((p, i) => expectWithin(b![i]!.heightMm, p.heightMm - 3, FLOAT32));
  });
  test('every pair names two points that are there and not far apart', () => {
    const mesh = placeFrame(DEVICE, 4, FRAME, drawMap(() => 12))!;
    const count = mesh.pointsLpsMm.length / 3;
    const at = (i: number) => [...mesh.pointsLpsMm.subarray(3 * i, 3 * i + 3)];
    for (let i = 0; i < mesh.pairs.length; i += 2) {
      const [a, b] = [mesh.pairs[i]!, mesh.pairs[i + 1]!];
      expect(a < count && b < count).toBe(true);
      expect(Math.hypot(...at(a).map((v, k) => v - at(b)[k]!))).toBeLessThan(6);
    }
  });
  test('gives nothing for a frame without height or a depth that is none', () => {
    expect(placeFrame({ ...DEVICE, heightMm: 0 }, 4, FRAME, drawMap(() => 12))).toBeNull();
    expect(placeFrame(DEVICE, Number.NaN, FRAME, drawMap(() => 12))).toBeNull();
  });
});

describe('readMapRadius', () => {
  test('is linear between samples and closes around', () => {
    const map = drawMap((deg, h) => (deg === 350 ? 11 : 10) + h);
    expectWithin(readMapRadius(map, (355 * Math.PI) / 180, 2.5)!, 13, ROUNDING);
    expectWithin(readMapRadius(map, (-5 * Math.PI) / 180, 2.5)!, 13, ROUNDING);
    expectWithin(readMapRadius(map, 0, -15)!, -5, ROUNDING);
  });
  test('says nothing outside the map or beside a hole', () => {
    const map = drawMap((deg, h) => (deg === 50 && h === 3 ? null : 10));
    expect(readMapRadius(map, (47 * Math.PI) / 180, 2.5)).toBeNull();
    expect([readMapRadius(map, 0, 26), readMapRadius(map, 0, -15.5)]).toEqual([null, null]);
  });
});
