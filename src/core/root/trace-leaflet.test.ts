import { describe, expect, test } from 'vitest';
import { makePolarBlock, makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { traceLeaflet } from './trace-leaflet.ts';

const SPEC = { lowMm: -4, heightStepMm: 0.5, heights: 61, azimuths: 96, radiusStepMm: 0.3, radii: 70 } as const;
const [BLOOD, TISSUE] = [400, 60];
const wallMm = (mm: number): number => 12 + 3 * Math.sin(Math.PI * Math.max(0, Math.min(1, mm / 20)));
const wall = makeWallTable({ heights: 61, azimuths: 96, lowMm: -4, stepMm: 0.5 }, (_, mm) => wallMm(mm));
const soft = (insideMm: number): number => Math.max(0, Math.min(1, 0.5 + insideMm / 1.2));
/** A sheet from the hinge (12 mm, 0) to `edge`, as dark as `depth` of the contrast; `noise` in HU. */
const drawLeaflet = (edge: readonly [radiusMm: number, heightMm: number] | null, depth = 0.6, noise = 0, isCalcified = (_: number) => false) => {
  let n = 0;
  return makePolarBlock(SPEC, (_, mm, r) => {
    const blood = TISSUE + (BLOOD - TISSUE) * soft(wallMm(mm) - r);
    let value = blood;
    if (edge && mm >= -0.5) {
      const t = Math.max(0, Math.min(1, mm / edge[1]));
      const off = Math.hypot(r - (12 + (edge[0] - 12) * t), Math.max(0, mm - edge[1]));
      if (off < 0.9) value = isCalcified(mm) ? 900 : Math.min(blood, BLOOD - depth * (BLOOD - TISSUE));
    }
    return value + noise * normalAt(9, n++, 0);
  });
};
const trace = (block: ReturnType<typeof drawLeaflet>) => traceLeaflet(block, wall, 0.5, 12, BLOOD, TISSUE);

describe('traceLeaflet', () => {
  for (const [r, h] of [[4, 11], [3, 9], [6, 13]] as const) {
    test(`follows a sheet from the hinge to its edge at ${r} mm from the axis and ${h} mm up`, () => {
      const t = trace(drawLeaflet([r, h], 0.6, 20))!;
      expectWithin(t.lengthMm, Math.hypot(12 - r, h), { relative: 0, absolute: 1.5, from: 'the sheet is 1.8 mm thick and ends in a half circle' });
      expect(t.clearness).toBeGreaterThan(0.4);
    });
  }
  test('goes on through calcium', () => {
    const t = trace(drawLeaflet([4, 11], 0.6, 20, (mm) => mm > 4 && mm < 7))!;
    expectWithin(t.lengthMm, Math.hypot(8, 11), { relative: 0, absolute: 1.5, from: 'as without' });
  });
  test('a fainter leaflet has a wider interval', () => {
    expect(trace(drawLeaflet([4, 11], 0.32, 20))!.lengthSdMm).toBeGreaterThan(trace(drawLeaflet([4, 11], 0.8, 20))!.lengthSdMm);
  });
  test('gives none where no leaflet is seen, and none where the table ends too low', () => {
    expect(trace(drawLeaflet(null, 0, 20))).toBeNull();
    expect(trace(drawLeaflet([9, 4], 0.6, 20))).toBeNull();
    const low = { ...wall, heights: 10 };
    expect(traceLeaflet(drawLeaflet([4, 11]), low, 0.5, 12, BLOOD, TISSUE)).toBeNull();
  });
});
