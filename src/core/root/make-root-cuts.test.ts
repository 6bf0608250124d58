import { describe, expect, test } from 'vitest';
import { EXAMPLE_FRAME, exampleRadiusMm, makeExamplePlan, makeExampleVolume } from '../../../test/support/example-plan.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import type { CutMark, RootCut } from './cut-types.ts';
import { cutFromLps, findWidestSinus, lpsFromCut, makeRootCuts } from './make-root-cuts.ts';
import { makeSurveyFrame } from './make-survey-frame.ts';
import { lpsFromCylinder } from './root-frame.ts';

const root = makeExamplePlan().root!;
const volume = makeExampleVolume();
const made = makeRootCuts(volume, root, 421);
const cuts = made.ok ? made.value.cuts : [];
const cutOf = (role: RootCut['role']): RootCut => cuts.find((c) => c.role === role)!;
const markOf = <K extends CutMark['kind']>(cut: RootCut, kind: K) =>
  cut.marks.filter((m) => m.kind === kind) as Extract<CutMark, { kind: K }>[];
/** Grey level at mm in the picture, as HU. */
function huAt(cut: RootCut, [x, y]: readonly [number, number]): number {
  const { image, plane } = cut;
  const column = Math.floor((x / plane.widthMm) * image.widthPx);
  const row = Math.floor((y / plane.heightMm) * image.heightPx);
  return image.lowHu + (image.greyLevels[row * image.widthPx + column]! / 255) * (image.highHu - image.lowHu);
}

describe('makeRootCuts', () => {
  test('cuts across at the basal plane, the outflow tract and the widest sinus, and along through each nadir', () => {
    expect(cuts.map((c) => c.role)).toEqual(['basal', 'nadir-R', 'nadir-L', 'nadir-N', 'outflow', 'sinus']);
    expect(cutOf('sinus').heightMm).toBe(findWidestSinus(root.levels, 19.6)!.heightMm);
  });
  test('shows the basal plane from the aorta: R on top, L left below, N right below', () => {
    const [r, l, n] = markOf(cutOf('basal'), 'nadir').map((m) => m.at);
    const centre = cutFromLps(cutOf('basal').plane, makeSurveyFrame(root).originLps).at;
    expectWithin(r![0], centre[0], { relative: 0, absolute: 1e-9, from: 'rounding' });
    expect(r![1]).toBeLessThan(centre[1] - 8);
    expect(l![0]).toBeLessThan(centre[0] - 5);
    expect(l![1]).toBeGreaterThan(centre[1]);
    expect(n![0]).toBeGreaterThan(centre[0] + 5);
    expect(n![1]).toBeGreaterThan(centre[1]);
  });
  test('puts the ring on the edge of the blood', () => {
    const cut = cutOf('basal');
    const centre = cutFromLps(cut.plane, EXAMPLE_FRAME.originLps).at;
    for (const p of markOf(cut, 'ring')[0]!.points.filter((_, i) => i % 7 === 0)) {
      const shift = (mm: number): readonly [number, number] => {
        const length = Math.hypot(p[0] - centre[0], p[1] - centre[1]);
        return [p[0] + ((p[0] - centre[0]) / length) * mm, p[1] + ((p[1] - centre[1]) / length) * mm];
      };
      const outside = huAt(cut, shift(1.6));
      // Where calcium sits on the wall the outside is bright; elsewhere blood is 421 HU and wall about 90 HU.
      if (outside < 300) expect(huAt(cut, shift(-1.6))).toBeGreaterThan(outside + 150);
    }
  });
  test('shows the edge of the blood where it is: no shift by half a pixel', () => {
    const cut = cutOf('basal');
    const centre = cutFromLps(cut.plane, EXAMPLE_FRAME.originLps).at;
    const errors: { across: number; down: number; out: number }[] = [];
    for (let i = 0; i < 72; i++) {
      const azimuth = (i * 5 * Math.PI) / 180;
      // Azimuth 0 is up, azimuth +90 degrees left.
      const [dx, dy] = [-Math.sin(azimuth), -Math.cos(azimuth)];
      const profile = Array.from({ length: 90 }, (_, k) => huAt(cut, [centre[0] + dx * (6 + k * 0.1), centre[1] + dy * (6 + k * 0.1)]));
      const half = (421 + profile.slice(-15).reduce((sum, hu) => sum + hu / 15, 0)) / 2;
      const crossing = 6 + profile.findIndex((hu) => hu < half) * 0.1 - 0.05;
      const out = crossing - exampleRadiusMm(azimuth, 0);
      errors.push({ across: out * dx, down: out * dy, out });
    }
    const mean = (key: 'across' | 'down' | 'out'): number => errors.reduce((s, e) => s + e[key], 0) / errors.length;
    // Nearest pixel of 0.25 mm and 26 HU of noise on an edge of 0.35 mm; the mean of 72 rays settles to a few hundredths.
    expectWithin(mean('across'), 0, { relative: 0, absolute: 0.06, from: 'half a pixel would be 0.0625 across' });
    expectWithin(mean('down'), 0, { relative: 0, absolute: 0.06, from: 'half a pixel would be 0.0625 down' });
    expectWithin(mean('out'), 0, { relative: 0, absolute: 0.12, from: 'edge of 0.35 mm and the fall of the wall behind it; 0.09 seen' });
  });
  test('a long cut has the aorta on top, its nadir on the right, and wall points at the true radius', () => {
    for (const cusp of ['R', 'L', 'N'] as const) {
      const cut = cutOf(`nadir-${cusp}`);
      const axisX = markOf(cut, 'axis')[0]!.from[0];
      const planes = markOf(cut, 'plane');
      expect(planes.map((p) => p.level)).toEqual(['basal', 'junction']);
      expect(planes[1]!.from[1]).toBeLessThan(planes[0]!.from[1] - 15);
      const nadir = markOf(cut, 'nadir')[0]!;
      expect(nadir.at[0]).toBeGreaterThan(axisX + 8);
      expectWithin(nadir.offMm, 0, { relative: 0, absolute: 1e-9, from: 'the cut goes through its nadir' });
      const wall = markOf(cut, 'wall')[0]!.points;
      expect(wall.length).toBe(root.levels.length);
      const frame = makeSurveyFrame(root);
      for (const p of wall) {
        const onWall = lpsFromCut(cut.plane, p);
        const d = onWall.map((v, i) => v - EXAMPLE_FRAME.originLps[i]!);
        const h = d.reduce((s, v, i) => s + v * frame.normalLps[i]!, 0);
        const x = d.reduce((s, v, i) => s + v * EXAMPLE_FRAME.uLps[i]!, 0);
        const y = d.reduce((s, v, i) => s + v * EXAMPLE_FRAME.vLps[i]!, 0);
        expectWithin(Math.hypot(x, y), exampleRadiusMm(Math.atan2(y, x), h), { relative: 0, absolute: 0.03, from: 'chord of a 3 degree step at 17 mm: 0.006 mm, lobes bend more' });
      }
    }
  });
  test('goes from a picture to the patient and back', () => {
    const { plane } = cutOf('nadir-L');
    const p = lpsFromCylinder(EXAMPLE_FRAME, { azimuthRad: 1, heightMm: 4, radiusMm: 9 });
    const foot = cutFromLps(plane, p);
    const back = lpsFromCut(plane, foot.at);
    expectWithin(Math.hypot(...back.map((v, i) => v - p[i]!)), Math.abs(foot.offMm), { relative: 1e-9, absolute: 1e-9, from: 'rounding' });
  });
  test('gives the same pictures twice', () => {
    const again = makeRootCuts(volume, root, 421);
    const bytesOf = (list: readonly RootCut[]) => list.map((c) => Buffer.from(c.image.greyLevels).toString('base64'));
    expect(bytesOf(again.ok ? again.value.cuts : [])).toEqual(bytesOf(cuts));
    expect(again.ok ? again.value.cuts.map((c) => c.marks) : []).toEqual(cuts.map((c) => c.marks));
  });
  test('refuses marks that lie outside the scan', () => {
    const far = { ...volume, lpsFromVoxel: { ...volume.lpsFromVoxel, rows: volume.lpsFromVoxel.rows.map((v, i) => (i === 3 ? v + 500 : v)) } };
    const answer = makeRootCuts(far, root, 421);
    expect(answer.ok ? 'cut' : answer.failure.code).toBe('cut-outside-volume');
  });
});
