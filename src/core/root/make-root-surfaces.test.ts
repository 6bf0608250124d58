import { describe, expect, test } from 'vitest';
import { makeRootFrame } from './root-frame.ts';
import type { WallTable } from './find-junction.ts';
import type { CalciumDeposit } from './root-types.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { measureSurface } from '../surface/check-surface.ts';
import { makeCalciumSurface, makeLumenSurface } from './make-root-surfaces.ts';

const FRAME = makeRootFrame([12, -140, 230], [-0.4, -0.3, 0.86], [30, -150, 230]);

/** A cone: radius 10 mm at height 0, growing by `slope` mm per mm. */
function makeCone(azimuths: number, slope: number): WallTable {
  const heights = 61;
  const radiusMm = new Float64Array(heights * azimuths);
  for (let h = 0; h < heights; h++) radiusMm.fill(10 + slope * (h - 20), h * azimuths, (h + 1) * azimuths);
  return { radiusMm, heights, azimuths, lowMm: -20, stepMm: 1 };
}

describe('makeLumenSurface', () => {
  test('is one closed ball-like surface, turned outward, with the volume of the cone', () => {
    const n = 96;
    const surface = measureSurface(makeLumenSurface(FRAME, makeCone(n, 0.1), -12, 25)!);
    expect([surface.isClosed, surface.isManifold, surface.euler]).toEqual([true, true, 2]);
    const [low, high] = [8.8, 12.5];
    const prism = (n / (2 * Math.PI)) * Math.sin((2 * Math.PI) / n); // inscribed polygon over circle
    const wanted = ((Math.PI * 37) / 3) * (low * low + low * high + high * high) * prism;
    // Each facet of the cone is flat, so cutting it in two triangles loses nothing; float32 vertices: 1e-6.
    expect(Math.abs(surface.volumeMm3 / wanted - 1)).toBeLessThan(1e-5);
  });
  test('gives nothing when a wall is missing or the heights hold fewer than two rows', () => {
    const cone = makeCone(24, 0);
    expect(makeLumenSurface(FRAME, cone, 3.2, 4.6)).toBeNull();
    cone.radiusMm[25 * 24 + 3] = NaN;
    expect(makeLumenSurface(FRAME, cone, 0, 10)).toBeNull();
    expect(makeLumenSurface(FRAME, cone, 6, 10)).not.toBeNull();
  });
});

/** Balls in blood of 400 HU; soft edges one voxel wide. */
function makeBalls(balls: readonly { readonly at: readonly [number, number, number]; readonly radiusMm: number }[]): CtVolume {
  const n = 48;
  const stepMm = 0.5;
  const samplesHu = new Int16Array(n ** 3);
  for (let k = 0, i = 0; k < n; k++) {
    for (let j = 0; j < n; j++) {
      for (let x = 0; x < n; x++, i++) {
        const inside = balls.map(({ at, radiusMm }) => radiusMm - Math.hypot(x * stepMm - at[0], j * stepMm - at[1], k * stepMm - at[2]));
        samplesHu[i] = Math.round(400 + 700 * Math.max(0, Math.min(1, 0.5 + Math.max(...inside) / stepMm)));
      }
    }
  }
  return {
    samplesHu, dims: [n, n, n], spacingMm: [stepMm, stepMm, stepMm], paddingHu: null,
    lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [stepMm, 0, 0, 0, 0, stepMm, 0, 0, 0, 0, stepMm, 0] },
  };
}
const deposit = (centreLps: CalciumDeposit['centreLps'], radiusMm: number): CalciumDeposit =>
  ({ centreLps, volumeMm3: (4 / 3) * Math.PI * radiusMm ** 3, cusp: 'L', heightMm: 3, protrusionMm: 1 });

describe('makeCalciumSurface', () => {
  test('encloses each deposit and leaves other bright spots out', () => {
    const volume = makeBalls([{ at: [8, 8, 8], radiusMm: 3 }, { at: [16, 14, 12], radiusMm: 2 }, { at: [8, 16, 8], radiusMm: 2.5 }]);
    const surface = measureSurface(makeCalciumSurface(volume, [deposit([8, 8, 8], 3), deposit([16, 14, 12], 2)], 750)!);
    expect([surface.isClosed, surface.euler]).toEqual([true, 4]); // two balls
    const wanted = (4 / 3) * Math.PI * (27 + 8);
    expect(Math.abs(surface.volumeMm3 / wanted - 1)).toBeLessThan(0.04); // a flat facet across a cell's diagonal of 0.87 mm cuts a 3 mm ball by 0.03 mm
  });
  test('is closed where the scan ends inside a deposit', () => {
    const volume = makeBalls([{ at: [0.5, 10, 10], radiusMm: 3 }]);
    expect(measureSurface(makeCalciumSurface(volume, [deposit([0.5, 10, 10], 3)], 750)!).isClosed).toBe(true);
  });
  test('gives nothing without deposits, and nothing where the scan shows none', () => {
    const volume = makeBalls([{ at: [8, 8, 8], radiusMm: 3 }]);
    expect(makeCalciumSurface(volume, [], 750)).toBeNull();
    expect(makeCalciumSurface(volume, [deposit([18, 18, 18], 2)], 750)).toBeNull();
    expect(makeCalciumSurface(volume, [deposit([80, 18, 18], 2)], 750)).toBeNull();
  });
});
