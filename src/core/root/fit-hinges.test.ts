import { describe, expect, test } from 'vitest';
import { makePolarBlock } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalCdf } from '../math/normal-cdf.ts';
import { normalAt } from '../math/random.ts';
import type { Crown } from './find-crown.ts';
import { fitHinges } from './fit-hinges.ts';
import { isTrusted } from './refine-crown.ts';
import type { FineWall } from './refine-wall.ts';

const SPEC = { lowMm: -12, heightStepMm: 0.5, heights: 61, azimuths: 12, radiusStepMm: 0.3, radii: 88 } as const;
const [BLOOD, TISSUE, LEAFLET] = [400, 70, 100];
/** The leaflet's attachment at one height all around: a crown without rise. */
const flat = (mm: number): Crown => ({ nadirRad: [0, 2, 4], nadirMm: [mm, mm, mm], commissureRad: [1, 3, 5], commissureMm: [mm, mm, mm] });

interface Picture {
  readonly hingeMm: number;
  readonly radiusMm: number;
  /** Slope of the wall below, angle and bend of the wall above, angle, thickness and bend of the leaflet. */
  readonly lower: number;
  readonly upperRad: number;
  readonly upperBend: number;
  readonly leafletRad: number;
  readonly leafletMm: number;
  readonly leafletBend: number;
  readonly blurMm: number;
  readonly noiseHu: number;
}
const PLAIN: Picture = { hingeMm: 0.37, radiusMm: 12.2, lower: 0.08, upperRad: 0.7, upperBend: 0.04, leafletRad: 0.6, leafletMm: 0.9, leafletBend: 0.03, blurMm: 0.65, noiseHu: 0 };

/** The half-plane the model describes: wall below and above the hinge, one sheet leaving it, everything blurred alike. */
function drawPicture(c: Picture) {
  const wallMm = (mm: number): number => {
    const u = mm - c.hingeMm;
    if (u <= 0) return c.radiusMm + c.lower * u;
    // Along the wall by s, inward by the bend: solve for the radius at this height.
    let s = u / Math.cos(c.upperRad);
    for (let k = 0; k < 30; k++) s = (u - c.upperBend * s * s * Math.sin(c.upperRad)) / Math.cos(c.upperRad);
    return c.radiusMm + s * Math.sin(c.upperRad) - c.upperBend * s * s * Math.cos(c.upperRad);
  };
  let n = 0;
  const block = makePolarBlock(SPEC, (_rad, mm, r) => {
    const u = mm - c.hingeMm;
    const x = c.radiusMm - r;
    const below = (x + c.lower * u) / Math.hypot(1, c.lower);
    const s = u * Math.cos(c.upperRad) - x * Math.sin(c.upperRad);
    const above = x * Math.cos(c.upperRad) + u * Math.sin(c.upperRad) - (s > 0 ? c.upperBend * s * s : 0);
    const inside = normalCdf((Math.tan(c.upperRad) > c.lower ? Math.max(below, above) : Math.min(below, above)) / c.blurMm);
    const along = u * Math.cos(c.leafletRad) + x * Math.sin(c.leafletRad);
    const across = u * Math.sin(c.leafletRad) - x * Math.cos(c.leafletRad) + (along > 0 ? c.leafletBend * along * along : 0);
    const sheet = (normalCdf((across + c.leafletMm / 2) / c.blurMm) - normalCdf((across - c.leafletMm / 2) / c.blurMm)) * normalCdf(along / c.blurMm);
    return TISSUE + (BLOOD - TISSUE) * inside - (BLOOD - LEAFLET) * sheet * inside + c.noiseHu * normalAt(23, n++, 0);
  });
  const size = SPEC.heights * SPEC.azimuths;
  const wall: FineWall = {
    heights: SPEC.heights, azimuths: SPEC.azimuths, blurMm: c.blurMm,
    radiusMm: Float64Array.from({ length: size }, (_, i) => wallMm(SPEC.lowMm + Math.floor(i / SPEC.azimuths) * SPEC.heightStepMm)),
    tissueHu: new Float64Array(size).fill(TISSUE), noiseSdMm: new Float64Array(size), isEdge: new Uint8Array(size).fill(1),
  };
  return { block, wall };
}
const fit = (c: Picture, startOffMm: number) => {
  const { block, wall } = drawPicture(c);
  const crown = flat(c.hingeMm + startOffMm);
  return fitHinges(block, wall, crown, BLOOD, TISSUE, LEAFLET, fitHinges(block, wall, crown, BLOOD, TISSUE, LEAFLET));
};

describe('fitHinges', () => {
  // The priors of the model (thickness 0.9 mm, wall angle as mapped) pull a little where the picture leaves a choice.
  for (const [name, change, mm] of [
    ['a sinus that opens outward', {}, 0.05],
    ['a flat sinus floor', { upperRad: 1.2, leafletRad: 0.9 }, 0.05],
    ['an outflow tract that widens downward', { lower: -0.2, leafletRad: 0.5 }, 0.05],
    ['a thick leaflet', { leafletMm: 1.6 }, 0.05],
    ['a thick, flat leaflet', { leafletMm: 1.6, leafletRad: 1.2 }, 0.12],
  ] as const) {
    test(`recovers a hinge drawn from its own model: ${name}`, () => {
      const hinges = fit({ ...PLAIN, ...change }, 0.4);
      expect(hinges.length).toBe(SPEC.azimuths / 2);
      for (const h of hinges) {
        expectWithin(h.heightMm, PLAIN.hingeMm, { relative: 0, absolute: mm, from: 'exact model: trilinear reading of blurred samples and weak priors remain' });
        expectWithin(h.radiusMm, PLAIN.radiusMm, { relative: 0, absolute: mm, from: 'as above' });
        expect(h.misfit).toBeLessThan(0.02);
      }
    });
  }
  test('finds the same hinge from starts up to 1.5 mm away, or says that it is not to be trusted', () => {
    for (const off of [-1.5, -0.7, 0.7, 1.5]) {
      const trusted = fit(PLAIN, off).filter(isTrusted);
      if (off < 1) expect(trusted.length).toBe(SPEC.azimuths / 2);
      for (const h of trusted) expectWithin(h.heightMm, PLAIN.hingeMm, { relative: 0, absolute: 0.06, from: 'prior of 2 mm on the start against 400 samples of one picture' });
    }
  });
  test('scatters under noise of 30 HU about as much as it says', () => {
    const hinges = fit({ ...PLAIN, noiseHu: 30 }, 0.4);
    const mean = hinges.reduce((s, h) => s + h.heightMm, 0) / hinges.length;
    const sd = Math.sqrt(hinges.reduce((s, h) => s + (h.heightMm - mean) ** 2, 0) / (hinges.length - 1));
    const stated = hinges.reduce((s, h) => s + h.heightSdMm, 0) / hinges.length;
    expectWithin(mean, PLAIN.hingeMm, { relative: 0, absolute: 0.15, from: 'two SDs of the mean of 6 hinges, neighbours share samples' });
    expect(sd).toBeLessThan(2.5 * stated);
    expect(stated).toBeLessThan(0.6);
  });
  test('says how much of the picture around a hinge calcium hides', () => {
    const { block, wall } = drawPicture(PLAIN);
    const valuesHu = block.valuesHu.map((v, i) => {
      const [h, a, r] = [Math.floor(i / (SPEC.radii * SPEC.azimuths)), Math.floor(i / SPEC.radii) % SPEC.azimuths, i % SPEC.radii];
      const [mm, radius] = [SPEC.lowMm + h * SPEC.heightStepMm, r * SPEC.radiusStepMm];
      return a === 6 && Math.hypot(mm - PLAIN.hingeMm - 1, radius - PLAIN.radiusMm - 1) < 1 ? 1000 : v;
    });
    const hinges = fitHinges({ ...block, valuesHu }, wall, flat(0.4), BLOOD, TISSUE, LEAFLET);
    // Three half-planes are read for each hinge: of every second of twelve, only the one at 180 degrees meets the deposit.
    expect(hinges.map((h) => h.hiddenRatio > 0.1)).toEqual(hinges.map((h) => Math.abs(h.azimuthRad - Math.PI) < 0.01));
    for (const h of hinges) expect(h.hiddenRatio).toBeLessThan(0.9);
  });
  test('leaves out azimuths where the scan ends', () => {
    const { block, wall } = drawPicture(PLAIN);
    const cut = { ...block, valuesHu: block.valuesHu.map((v, i) => (Math.floor(i / SPEC.radii) % SPEC.azimuths < 6 ? NaN : v)) };
    const hinges = fitHinges(cut, wall, flat(0.4), BLOOD, TISSUE, LEAFLET);
    expect(hinges.length).toBeGreaterThanOrEqual(2);
    for (const h of hinges) expect(h.azimuthRad).toBeGreaterThan(3);
  });
  test('a picture without a leaflet is fitted badly or by a sheet too thin to trust', () => {
    const { block, wall } = drawPicture({ ...PLAIN, leafletMm: 0 });
    for (const h of fitHinges(block, wall, flat(0.4), BLOOD, TISSUE, LEAFLET)) expect(h.leafletMm < 0.12 || h.misfit > 0.15 || h.heightSdMm > 0.6).toBe(true);
  });
});
