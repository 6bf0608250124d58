import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';
import { measureCalciumPull } from './measure-calcium-pull.ts';
import { refineCrown } from './refine-crown.ts';

const THIRD = (2 * Math.PI) / 3;
const CROWN: Crown = { nadirRad: [0.5, 0.5 + THIRD, 0.5 + 2 * THIRD], nadirMm: [0, 0, 0], commissureRad: [0.5 + THIRD / 2, 0.5 + 1.5 * THIRD, 0.5 + 2.5 * THIRD], commissureMm: [14, 14, 14] };
/** Hinges on the crown; beside the first nadir a deposit hides `hiddenRatio` of each picture and pulls the hinges by `offMm`. */
function makeHinges(offMm: number, hiddenRatio: number, reachRad = 0.3): Hinge[] {
  return Array.from({ length: 48 }, (_, i): Hinge => {
    const azimuthRad = (2 * Math.PI * i) / 48;
    const isBeside = Math.abs(azimuthRad - CROWN.nadirRad[0]!) < reachRad;
    return {
      azimuthRad, heightMm: readCrown(CROWN, azimuthRad) + (isBeside ? offMm : 0), radiusMm: 12, heightSdMm: 0.15, radiusSdMm: 0.1,
      leafletAngleDeg: 40, leafletMm: 0.9, upperAngleRad: 0.5, upperBendPerMm: 0.04, misfit: 0.05, hiddenRatio: isBeside ? hiddenRatio : 0,
    };
  });
}
const pullOf = (hinges: readonly Hinge[]) => measureCalciumPull(hinges, refineCrown(hinges, CROWN).crown);

describe('measureCalciumPull', () => {
  test('without calcium nothing is pulled', () => {
    expect(pullOf(makeHinges(-1.2, 0))).toEqual([{ heightMm: 0, alongMm: 0 }, { heightMm: 0, alongMm: 0 }, { heightMm: 0, alongMm: 0 }]);
  });
  test('a deposit pressed into the wall, which lowers the hinges beside it together, is told by the hinges left and right of it', () => {
    const [first, second, third] = pullOf(makeHinges(-1.2, 0.4));
    expectWithin(first!.heightMm, 1.2, { relative: 0, absolute: 0.25, from: 'the curve gives way to 8 like hinges by all but a fifth' });
    for (const other of [second!, third!]) expect(other.heightMm).toBeLessThan(0.1);
  });
  test('a deposit that pulls nothing, and one that hides next to nothing, raise no doubt', () => {
    expect(Math.max(...pullOf(makeHinges(0, 0.4)).map((p) => p.heightMm))).toBeLessThan(0.1);
    expect(Math.max(...pullOf(makeHinges(-1.2, 0.05)).map((p) => p.heightMm))).toBe(0);
  });
  test('where calcium leaves too few hinges all three are doubted', () => {
    const pulls = pullOf(makeHinges(0, 0.4).map((h, i) => ({ ...h, hiddenRatio: i % 8 === 0 ? 0 : 0.5 })));
    for (const p of pulls) expect([p.heightMm, p.alongMm]).toEqual([2.5, 2.5]);
  });
});
