import { describe, expect, test } from 'vitest';
import { makePolarBlock, makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { judgeValveForm, scoreClosure, weighValveForm } from './judge-valve-form.ts';
import { measureCommissures, type CommissureView, type ValveView } from './measure-commissures.ts';

const SIZE = { heights: 101, azimuths: 96, lowMm: -16, stepMm: 0.5 } as const;
const SPEC = { lowMm: -16, heightStepMm: 0.5, heights: 101, azimuths: 96, radiusStepMm: 0.3, radii: 70 } as const;
const [BLOOD, LEAFLET, WALL_MM, JUNCTION_MM] = [400, 90, 12, 20];
const GAPS = [1, 3, 5].map((k) => (k * Math.PI) / 3);
const wall = makeWallTable(SIZE, () => WALL_MM);
const away = (a: number, b: number): number => Math.abs(Math.atan2(Math.sin(a - b), Math.cos(a - b)));

/**
 * Leaflets as a cone from the wall at 3 mm up to a round opening of 3.5 mm at 14 mm; each gap in `open` is free for 3 mm
 * to both sides; `paint` is what the leaflet looks like, `over` replaces the value anywhere.
 */
function drawValve(open: readonly number[], paint = LEAFLET, over: (rad: number, mm: number, r: number) => number | null = () => null) {
  return makePolarBlock(SPEC, (rad, mm, r) => {
    const other = over(rad, mm, r);
    if (other !== null) return other;
    if (r > WALL_MM) return 60;
    if (open.some((g) => away(rad, g) * r < 3)) return BLOOD;
    const middle = 3 + (11 * (WALL_MM - r)) / (WALL_MM - 3.5);
    return r > 3.5 && Math.abs(mm - middle) < 0.8 ? paint : BLOOD;
  });
}
const NADIRS = [0, 2, 4].map((k) => (k * Math.PI) / 3);
const COMMISSURES = GAPS.map((azimuthRad) => ({ azimuthRad, heightMm: 18 }));
const look = (block: ReturnType<typeof drawValve>, at = COMMISSURES): ValveView => measureCommissures(block, wall, at, NADIRS, JUNCTION_MM, BLOOD);

describe('measureCommissures', () => {
  test('three free gaps: next to no darkness in them, full darkness of the leaflets, a compact opening', () => {
    const view = look(drawValve(GAPS));
    for (const c of view.commissures) expect(c.bridgedRatio).toBeLessThan(0.1);
    expect(view.leafletDarkness).toBeGreaterThan(0.95);
    expect(view.commissures.map((c) => c.heightShare)).toEqual([0.9, 0.9, 0.9]);
    expect(view.openingAspect).toBeLessThan(1.15);
  });
  for (const shut of [0, 1, 2]) {
    test(`leaflet across commissure ${shut}: that one alone is bridged, and the opening grows long`, () => {
      const view = look(drawValve(GAPS.filter((_, i) => i !== shut)));
      view.commissures.forEach((c, i) => (i === shut ? expect(c.bridgedRatio).toBeGreaterThan(0.9) : expect(c.bridgedRatio).toBeLessThan(0.1)));
      expect(view.openingAspect).toBeGreaterThan(1.4);
    });
  }
  test('leaflet is met above every nadir, and not above one that lies in a gap', () => {
    for (const ratio of look(drawValve(GAPS)).leafletRatio) expect(ratio).toBeGreaterThan(0.9);
    const wide = drawValve(GAPS, LEAFLET, (rad, mm, r) => (away(rad, NADIRS[2]!) < 0.8 && r < WALL_MM && mm > -5 ? BLOOD : null));
    expect(look(wide).leafletRatio[2]).toBeLessThan(0.1);
  });
  test('calcium in the gap bridges it as leaflet does', () => {
    const view = look(drawValve(GAPS, LEAFLET, (rad, mm, r) => (away(rad, GAPS[1]!) < 0.7 && Math.abs(mm - 9) < 1.5 && r < 10.5 && r > 3 ? 1000 : null)));
    expect(view.commissures[1]!.bridgedRatio).toBeGreaterThan(0.9);
  });
  test('a gap that lies 20 degrees off the commissure given is still found', () => {
    const view = look(drawValve(GAPS), COMMISSURES.map((c) => ({ ...c, azimuthRad: c.azimuthRad + 0.35 })));
    for (const c of view.commissures) expect(c.bridgedRatio).toBeLessThan(0.1);
  });
});

const THREE = { twoCuspScore: 0.6, threeCuspScore: 1.2, secondWaveMm: 0.6, thirdWaveMm: 2 };
const seen = (...gaps: readonly (readonly [bridged: number, height: number])[]): ValveView => ({
  leafletDarkness: 0.6, leafletRatio: [1, 1, 1], openingAspect: 1.2, openingMm2: 60,
  commissures: gaps.map(([bridgedRatio, heightShare], i): CommissureView => ({ azimuthRad: GAPS[i]!, bridgedRatio, heightShare })),
});

describe('weighValveForm', () => {
  test('a bridged gap with a low attachment is a fused pair; which one is said', () => {
    const judged = weighValveForm(THREE, seen([0.2, 0.95], [0.8, 0.5], [0.25, 0.9]));
    expect([judged.form, judged.closed]).toEqual(['maybe-fused', [1]]);
    expect(judged.evidence).toMatchObject({ bridgedRatio2: 0.8, heightShare2: 0.5, thirdWaveMm: 2 });
  });
  test('one sign alone is not enough: calcium in a gap of full height, or a low attachment with an open gap', () => {
    expect(weighValveForm(THREE, seen([0.2, 0.95], [0.75, 0.95], [0.25, 0.9])).form).toBe('three-leaflet');
    expect(weighValveForm(THREE, seen([0.2, 0.95], [0.3, 0.4], [0.25, 0.9])).form).toBe('three-leaflet');
    expect(weighValveForm(THREE, seen([0.49, 1.2], [1, 1.12], [0.85, 1.1])).form).toBe('three-leaflet');
  });
  test('a gap no dimmer than the clearest by 0.18 is no raphe, though its attachment seems low', () => {
    expect(weighValveForm(THREE, seen([0.52, 0.8], [0.6, 0.45], [0.49, 0.58])).form).toBe('three-leaflet');
    expect(weighValveForm(THREE, seen([0.52, 0.8], [0.7, 0.45], [0.49, 0.58])).form).toBe('maybe-fused');
  });
  test('where no attachment stands high, a bridged gap is not seen rather than fused', () => {
    expect(weighValveForm(THREE, seen([0.4, 0.3], [0.8, 0.33], [0.5, 0.24])).form).toBe('not-seen');
    expect(weighValveForm(THREE, seen([0.4, 0.3], [0.35, 0.33], [0.3, 0.24])).form).toBe('three-leaflet');
    expect(weighValveForm(THREE, seen([0.2, NaN], [0.95, NaN], [0.25, NaN])).form).toBe('maybe-fused');
  });
  test('says nothing about a valve that shows no gap at all, pale leaflets, or no view', () => {
    expect(weighValveForm(THREE, seen([0.9, 0.5], [0.8, 0.5], [0.7, 0.9])).form).toBe('not-seen');
    expect(weighValveForm(THREE, { ...seen([0.2, 0.9], [0.9, 0.4], [0.2, 0.9]), leafletDarkness: 0.2 }).form).toBe('not-seen');
    expect(weighValveForm(THREE, { ...seen([0.2, 0.9], [0.9, 0.4], [0.2, 0.9]), leafletDarkness: NaN }).form).toBe('not-seen');
    expect(weighValveForm(THREE, null).form).toBe('not-seen');
  });
  test('a nadir without leaflet above it is not a cusp', () => {
    const view = seen([0.1, 0.95], [0.1, 0.95], [0.1, 0.95]);
    expect(weighValveForm(THREE, { ...view, leafletRatio: [1, 0.2, 0.9] }).form).toBe('cusp-missing');
    expect(weighValveForm(THREE, { ...view, leafletRatio: [1, 0.2, 0.9], leafletDarkness: 0.2 }).form).toBe('not-seen');
  });
  test('what the wall says goes before what the leaflets say', () => {
    const open = seen([0.1, 0.95], [0.1, 0.95], [0.1, 0.95]);
    expect(weighValveForm({ twoCuspScore: 1.3, threeCuspScore: 0.8, secondWaveMm: 2, thirdWaveMm: 0.4 }, open).form).toBe('two-lobed');
    expect(weighValveForm({ ...THREE, threeCuspScore: 0.1 }, open).form).toBe('no-crown');
  });
  test('closure grows with the bridge and falls with the height of the attachment', () => {
    for (let bridged = 0; bridged <= 1.1; bridged += 0.05) {
      for (let height = 0.2; height <= 1.1; height += 0.05) {
        const at = (b: number, h: number): number => scoreClosure({ azimuthRad: 0, bridgedRatio: b, heightShare: h });
        expect(at(bridged + 0.05, height)).toBeGreaterThanOrEqual(at(bridged, height) - 1e-9);
        expect(at(bridged, height + 0.05)).toBeLessThanOrEqual(at(bridged, height) + 1e-9);
      }
    }
  });
  test('on marks, without a height of the attachment, only a bridge as good as complete counts', () => {
    expect(scoreClosure({ azimuthRad: 0, bridgedRatio: 0.7, heightShare: NaN })).toBeLessThan(0);
    expect(scoreClosure({ azimuthRad: 0, bridgedRatio: 0.95, heightShare: NaN })).toBeGreaterThan(0);
  });
});

describe('judgeValveForm', () => {
  test('a bare tube without sinuses or leaflets shows no crown', () => {
    const tube = makePolarBlock(SPEC, (_, __, r) => (r > WALL_MM ? 60 : BLOOD));
    expect(judgeValveForm(tube, wall, COMMISSURES, NADIRS, BLOOD, 0.5).form).toBe('no-crown');
  });
});
