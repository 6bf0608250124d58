import { describe, expect, test } from 'vitest';
import { makeExamplePlan, makeExampleVolume, makeRefusedPlan } from '../../../test/support/example-plan.ts';
import { makeRootCuts } from '../../core/root/make-root-cuts.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { drawCalciumChart } from './draw-calcium-chart.ts';
import { drawCut } from './draw-cut.ts';
import { drawLevelsChart } from './draw-levels-chart.ts';
import { drawRingSheet } from './draw-ring-sheet.ts';
import { drawRootPicture } from './draw-root-picture.ts';
import { drawUnrolledMap } from './draw-unrolled-map.ts';

const root = makeExamplePlan().root!;
const picture = { id: 'p', isTraining: false };
/** x of a text element that says exactly `text`. */
function placeOf(svg: string, text: string): readonly [number, number] {
  const found = new RegExp(`<text class="[^"]*" x="([-\\d.]+)" y="([-\\d.]+)">${text}</text>`).exec(svg);
  if (!found) throw new Error(`no text "${text}"`);
  return [Number(found[1]), Number(found[2])];
}
const emptied: RootSurvey = {
  ...root, levels: [], map: { azimuthDeg: [], heightMm: [], radiusMm: [], calciumHu: [] },
  basalRing: { ...root.basalRing, contourLps: [] },
};

describe('the pictures', () => {
  test('look as they were last looked at', async () => {
    await expect(drawUnrolledMap(root, picture)).toMatchFileSnapshot('./__snapshots__/unrolled-map.svg');
    await expect(drawRingSheet(root, picture)).toMatchFileSnapshot('./__snapshots__/ring-sheet.svg');
    await expect(drawLevelsChart(root, picture)).toMatchFileSnapshot('./__snapshots__/levels-chart.svg');
    await expect(drawCalciumChart(root.calcium!, picture)).toMatchFileSnapshot('./__snapshots__/calcium-chart.svg');
    await expect(drawRootPicture(root, true)).toMatchFileSnapshot('./__snapshots__/root-picture.svg');
  });
  test('carry title and description, hold finite coordinates only, and the training mark where it is due', () => {
    for (const survey of [root, makeRefusedPlan().root!]) {
      for (const draw of [drawUnrolledMap, drawRingSheet, drawLevelsChart] as const) {
        const svg = draw(survey, { id: 'q', isTraining: true });
        if (svg === null) continue;
        expect(svg).toMatch(/role="img" aria-labelledby="q-title q-desc"/);
        expect(svg).toMatch(/<title id="q-title">[^<]+<\/title><desc id="q-desc">[^<]+<\/desc>/);
        expect(svg).not.toMatch(/NaN|Infinity|undefined|null/);
        expect(svg).toContain('training, invented sizes');
        expect(draw(survey, picture)).not.toContain('training');
      }
    }
  });
  test('are absent, not wrong, when nothing was measured to draw', () => {
    expect(drawUnrolledMap(emptied, picture)).toBeNull();
    expect(drawRingSheet(emptied, picture)).toBeNull();
    expect(drawLevelsChart(emptied, picture)).toBeNull();
    expect(drawRootPicture(emptied, false)).toBeNull();
    expect(drawLevelsChart(makeRefusedPlan().root!, picture)).toBeNull();
  });
});

describe('drawUnrolledMap', () => {
  const svg = drawUnrolledMap(root, picture)!;
  test('has N on the left, R in the middle, L on the right, as when facing the patient', () => {
    expect(placeOf(svg, 'N')[0]).toBeLessThan(placeOf(svg, 'R')[0]);
    expect(placeOf(svg, 'R')[0]).toBeLessThan(placeOf(svg, 'L')[0]);
    expect(svg).toMatch(/class="cusp-R"/);
  });
  test('stands with the aorta on top', () => {
    expect(placeOf(svg, 'to the aorta')[1]).toBeLessThan(placeOf(svg, 'to the ventricle')[1]);
    expect(placeOf(svg, '15 above')[1]).toBeLessThan(placeOf(svg, '5 below')[1]);
  });
  test('hatches what has no wall, dots what is above the threshold', () => {
    const dots = (text: string): number => (text.match(/h\.01/g) ?? []).length;
    expect(svg).toMatch(/fill="url\(#p-hatch\)" d="M/);
    const higher = drawUnrolledMap({ ...root, calcium: { ...root.calcium!, thresholdHu: 900 } }, picture)!;
    expect(dots(higher)).toBeLessThan(dots(svg));
    const { calcium: _, ...without } = root;
    expect(dots(drawUnrolledMap(without, picture)!)).toBe(0);
  });
});

describe('drawRingSheet', () => {
  test('is seen from the aorta: R on top, L left below, N right below', () => {
    const svg = drawRingSheet(root, picture)!;
    const [r, l, n] = ['R', 'L', 'N'].map((c) => placeOf(svg, c));
    expect(r![1]).toBeLessThan(l![1]);
    expect(r![1]).toBeLessThan(n![1]);
    expect(l![0]).toBeLessThan(r![0]);
    expect(n![0]).toBeGreaterThan(r![0]);
    expect(svg).toContain('seen from the aorta');
  });
  test('writes the diameters of the plan, and none when they were refused', () => {
    expect(drawRingSheet(root, picture)).toMatch(/smallest 21\.\d mm/);
    expect(drawRingSheet(makeRefusedPlan().root!, picture)).not.toMatch(/smallest \d/);
  });
});

describe('drawCut', () => {
  const made = makeRootCuts(makeExampleVolume(), root, 421);
  const cuts = made.ok ? made.value.cuts : [];
  test('holds the picture as data and the marks in mm', () => {
    for (const cut of cuts) {
      const svg = drawCut(cut, picture)!;
      expect(svg).toMatch(/href="data:image\/png;base64,iVBORw0KGgo/);
      expect(svg).toContain('viewBox="0 0 64 64"');
      expect(svg.replace(/base64,[^"]*/, '')).not.toMatch(/NaN|undefined/);
    }
    expect(drawCut(cuts[0]!, picture)).toContain('seen from the aorta');
    expect(drawCut(cuts[1]!, picture)).toContain('ventricle');
  });
  test('is absent when the picture is broken', () => {
    expect(drawCut({ ...cuts[0]!, image: { ...cuts[0]!.image, widthPx: 3 } }, picture)).toBeNull();
  });
});
