import { describe, expect, test } from 'vitest';
import type { ByCusp, Cusp } from '../root/root-types.ts';
import { makeSeededShape } from './draw-seeded-shape.ts';
import { fuseCusps, makeSeededFusion, type FusedKind, type Fusion } from './fuse-cusps.ts';
import { arrangeHeart } from './heart-anatomy.ts';
import { tabulateLeaflets } from './leaflet-sheets.ts';
import { checkTruth, measureTruth } from './measure-truth.ts';
import type { ByCommissure, Commissure } from './phantom-types.ts';
import { tabulateRootWall } from './root-wall.ts';

const RAPHE: Readonly<Record<FusedKind, Commissure>> = { 'fused-R-L': 'RL', 'fused-R-N': 'NR', 'fused-L-N': 'LN' };
const FREE: Readonly<Record<FusedKind, Cusp>> = { 'fused-R-L': 'N', 'fused-R-N': 'L', 'fused-L-N': 'R' };
const BESIDE: ByCusp<readonly [Commissure, Commissure]> = { R: ['NR', 'RL'], L: ['RL', 'LN'], N: ['LN', 'NR'] };
const way = (from: number, to: number): number => (((to - from) % 360) + 360) % 360;

describe('fuseCusps (seeds 1 to 6)', () => {
  for (let seed = 1; seed <= 6; seed++) {
    const { shape, fusion } = makeSeededFusion(seed);
    test(`seed ${seed}, ${fusion.valve}: sound truth, the free cusp as wide as asked, R at azimuth 0`, () => {
      const truth = measureTruth(arrangeHeart(shape));
      expect(checkTruth(truth)).toEqual([]);
      expect(truth.valve).toBe(fusion.valve);
      expect(shape.nadirAzimuthDeg.R).toBe(0);
      const [before, after] = BESIDE[FREE[fusion.valve]].map((c) => shape.commissureAzimuthDeg[c]) as [number, number];
      expect(way(before, after)).toBeCloseTo(fusion.freeSpanDeg, 9);
      // counter-clockwise: R, RL, L, LN, N, NR
      const round = [0, shape.commissureAzimuthDeg.RL, shape.nadirAzimuthDeg.L, shape.commissureAzimuthDeg.LN, shape.nadirAzimuthDeg.N, shape.commissureAzimuthDeg.NR];
      expect(round).toEqual([...round].sort((a, b) => a - b));
    });
    test(`seed ${seed}: leaflet stands across the raphe and at no other commissure`, () => {
      const wall = tabulateRootWall(shape);
      const sheets = tabulateLeaflets(shape, wall);
      const heightAt = (deg: number): number => {
        const i = Math.round((way(0, deg) / 360) * wall.azimuths) % wall.azimuths;
        return sheets.edgeMm[i]! - sheets.attachMm[i]!;
      };
      for (const [name, deg] of Object.entries(shape.commissureAzimuthDeg as ByCommissure<number>)) {
        // a column of the table lies up to a quarter of a degree off the commissure
        if (name === RAPHE[fusion.valve]) expect(heightAt(deg)).toBeGreaterThan(1);
        else expect(heightAt(deg)).toBeLessThan(0.3);
      }
    });
  }
  test('all three pairs, bare and calcified raphes are drawn', () => {
    const drawn = Array.from({ length: 30 }, (_, i) => makeSeededFusion(i + 1).fusion);
    expect(new Set(drawn.map((f) => f.valve)).size).toBe(3);
    const calcified = drawn.filter((f) => f.rapheCalciumMm !== null).length;
    expect(calcified > 8 && calcified < 22).toBe(true);
  });
  test('coronaries stay with their cusp, and no calcium but the raphe’s own lies on the raphe', () => {
    const { shape } = makeSeededShape(3);
    const fusion: Fusion = { valve: 'fused-L-N', rapheHeightShare: 0.5, freeSpanDeg: 150, rapheCalciumMm: [2.5, 1.2, 1.4] };
    const fused = fuseCusps(shape, fusion);
    expect(way(fused.nadirAzimuthDeg.L, fused.coronaries.left!.azimuthDeg)).toBeCloseTo(way(shape.nadirAzimuthDeg.L, shape.coronaries.left!.azimuthDeg), 9);
    const near = fused.calcium.filter((c) => Math.abs(way(fused.commissureAzimuthDeg.LN + 180, c.azimuthDeg) - 180) <= 25);
    expect(near.map((c) => c.semiAxesMm)).toEqual([[2.5, 1.2, 1.4]]);
    expect(fuseCusps(shape, { ...fusion, rapheCalciumMm: null }).calcium).toHaveLength(fused.calcium.length - 1);
  });
});
