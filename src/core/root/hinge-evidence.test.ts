import { describe, expect, test } from 'vitest';
import { makePolarBlock } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalCdf } from '../math/normal-cdf.ts';
import { normalAt } from '../math/random.ts';
import { findCrown, readCrown, type Crown } from './find-crown.ts';
import { gatherHingeEvidence, scoreHinges } from './hinge-evidence.ts';
import type { PolarBlock } from './polar-block.ts';
import type { FineWall } from './refine-wall.ts';

const SPEC = { lowMm: -14, heightStepMm: 0.5, heights: 62, azimuths: 72, radiusStepMm: 0.4, radii: 50 } as const;
const [BLOOD, TISSUE, LEAFLET, BLUR, RING] = [400, 60, 90, 0.65, 12] as const;
const CROWN: Crown = { nadirRad: [0.3, 2.3, 4.5], nadirMm: [-1.5, 0.5, 2], commissureRad: [1.35, 3.4, 5.55], commissureMm: [14, 15, 16] };

interface Picture {
  readonly hasLeaflet: boolean;
  /** The wall map given along: the true wall, or, over the middle of one cusp, the leaflet for a stretch above the hinge. */
  readonly isWallOnLeaflet: boolean;
  readonly outsideHu: number;
}

/** A straight tube; above the crown it opens outward by 45 degrees up to 4 mm, and a sheet leaves inward at 35 degrees. */
function draw(c: Picture): { block: PolarBlock; wall: FineWall } {
  const hinge = (rad: number): number => (c.hasLeaflet ? readCrown(CROWN, rad) : 99);
  const wallMm = (rad: number, mm: number): number => RING + Math.max(0, Math.min(4, mm - hinge(rad)));
  let n = 0;
  const block = makePolarBlock(SPEC, (rad, mm, r) => {
    const u = mm - hinge(rad);
    const off = wallMm(rad, mm) - r;
    const inside = normalCdf(off / (BLUR * (u > 0 && u < 4 ? Math.SQRT2 : 1)));
    const x = RING - r;
    const along = u * Math.cos(0.6) + x * Math.sin(0.6);
    const across = u * Math.sin(0.6) - x * Math.cos(0.6);
    const sheet = (normalCdf((across + 0.5) / BLUR) - normalCdf((across - 0.5) / BLUR)) * normalCdf(along / BLUR) * normalCdf((11 - along) / BLUR);
    const beyond = normalCdf((-off - 1.8) / BLUR);
    return TISSUE + (BLOOD - TISSUE) * inside + (c.outsideHu - TISSUE) * beyond - (BLOOD - LEAFLET) * sheet * inside + 25 * normalAt(5, n++, 0);
  });
  const size = SPEC.heights * SPEC.azimuths;
  const radiusMm = Float64Array.from({ length: size }, (_, i) => {
    const rad = (2 * Math.PI * (i % SPEC.azimuths)) / SPEC.azimuths;
    const mm = SPEC.lowMm + Math.floor(i / SPEC.azimuths) * SPEC.heightStepMm;
    const u = mm - hinge(rad);
    return c.isWallOnLeaflet && Math.abs(rad - 2.3) < 0.6 && u > 0 && u < 5 ? RING - 0.68 * u : wallMm(rad, mm);
  });
  return { block, wall: { heights: SPEC.heights, azimuths: SPEC.azimuths, radiusMm, blurMm: BLUR, tissueHu: new Float64Array(size).fill(TISSUE), noiseSdMm: new Float64Array(size), isEdge: new Uint8Array(size).fill(1) } };
}
const gather = (c: Picture) => {
  const { block, wall } = draw(c);
  return gatherHingeEvidence(block, wall, BLOOD, TISSUE);
};
const raised = (mm: number): Crown => ({ ...CROWN, nadirMm: CROWN.nadirMm.map((v) => v + mm), commissureMm: CROWN.commissureMm.map((v) => v + mm) });

describe('gatherHingeEvidence', () => {
  for (const [name, picture] of [
    ['on the true wall', { hasLeaflet: true, isWallOnLeaflet: false, outsideHu: TISSUE }],
    ['before a second chamber', { hasLeaflet: true, isWallOnLeaflet: false, outsideHu: BLOOD }],
    ['where the leaflet was taken for the wall', { hasLeaflet: true, isWallOnLeaflet: true, outsideHu: TISSUE }],
  ] as const) {
    test(`the best crown is the drawn one: ${name}`, () => {
      const e = gather(picture);
      const { crown } = findCrown(e, -5, 5, 5);
      for (const [i, rad] of CROWN.nadirRad.entries()) {
        expectWithin(readCrown(crown, rad), CROWN.nadirMm[i]!, { relative: 0, absolute: 1.6, from: 'rows 1.5 mm apart, azimuths 15 degrees apart: a start for the hinge fits, not a result' });
      }
      expect(scoreHinges(e, CROWN)).toBeGreaterThan(scoreHinges(e, raised(4)) + 0.2);
      expect(scoreHinges(e, CROWN)).toBeGreaterThan(scoreHinges(e, raised(-4)) + 0.2);
    });
  }
  test('a straight tube without leaflets holds no hinge anywhere', () => {
    const e = gather({ hasLeaflet: false, isWallOnLeaflet: false, outsideHu: TISSUE });
    expect(Math.max(...e.values)).toBeLessThan(0.2);
  });
  test('says nothing where the scan ends, and nothing above the asked heights', () => {
    const { block, wall } = draw({ hasLeaflet: true, isWallOnLeaflet: false, outsideHu: TISSUE });
    const e = gatherHingeEvidence({ ...block, valuesHu: new Float32Array(block.valuesHu.length).fill(NaN) }, wall, BLOOD, TISSUE);
    expect(e.values.every((v) => v === 0)).toBe(true);
    expect(scoreHinges(e, raised(60))).toBe(0);
  });
});
