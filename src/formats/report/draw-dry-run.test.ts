import { describe, expect, test } from 'vitest';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { DRY_RUN_STEPS } from '../../core/room/list-dry-run.ts';
import { drawDryRun, type DryRunPicture } from './draw-dry-run.ts';
import { formatShortCode } from './format-code.ts';
import { listDifferences } from './list-differences.ts';

const { document } = makeFrozenFixture();
const { plan, choice } = document;
const picture: DryRunPicture = { id: 'p', isTraining: true, step: 'release', startMm: choice.startMm, paceBpm: choice.paceBpm, landing: plan.landing!, kind: 'self-expanding', forecast: plan.release! };
const words = (svg: string): string => svg.replace(/<(title|desc)[^>]*>.*?<\/\1>/g, '').replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

describe('the picture of the dry run', () => {
  test('each step adds to what the one before showed; the whole carries the training mark', () => {
    const drawn = DRY_RUN_STEPS.map((step) => words(drawDryRun({ ...picture, step })));
    expect(drawn.map((w) => [w.includes('start 3.0'), w.includes('120 /min'), w.includes('no way back'), w.includes('slippery')])).toEqual([[true, false, false, false], [true, true, false, false], [true, true, true, false], [true, true, true, true]]);
    for (const w of drawn) expect(w).toContain('training');
  });
  test('an empty window and a missing forecast are hatched and said; no coordinate is not a number', () => {
    const svg = drawDryRun({ ...picture, landing: { ...plan.landing!, empty: true }, forecast: null });
    expect(words(svg)).toMatch(/EMPTY.*CANNOT SAY/);
    expect(svg).toContain('url(#p-hatch)');
    expect(svg + drawDryRun(picture) + drawDryRun({ ...picture, startMm: null, landing: null })).not.toMatch(/NaN|undefined|Infinity/);
  });
});

describe('what differs between two frozen plans, in words', () => {
  const differ = (after: FrozenDocument, ...paths: string[]) => listDifferences(document, after, paths);
  test('names the item, what it was and what it is; what was decided comes before the plan behind it', () => {
    const after: FrozenDocument = { ...document, choice: { ...choice, startMm: 4 }, huddle: { ...document.huddle, 'access.side': 'left', 'kit.snare.ready': false } };
    expect(differ(after, 'plan.landing.startMm', 'huddle.kit.snare.ready', 'huddle.access.side', 'choice.startMm', 'planSha256').map(({ name, was, is }) => [name, was, is])).toEqual([
      ['start', '3', '4'], ['snare, seen', 'yes', 'no'], ['Side', 'RIGHT', 'LEFT'], ['Landing: start', '3', '3'],
    ]);
  });
  test('a Fact is said with its interval, a contour only as changed', () => {
    const area = { ...plan.root!.basalRing.areaMm2, value: 470, low: 460, high: 480 };
    const after: FrozenDocument = { ...document, plan: { ...plan, root: { ...plan.root!, basalRing: { ...plan.root!.basalRing, areaMm2: area } } } };
    const [fact, contour] = differ(after, 'plan.root.basalRing.areaMm2', 'plan.root.basalRing.contourLps');
    expect(fact).toMatchObject({ name: 'Area', is: '470 mm² (460–480)' });
    expect(contour).toMatchObject({ was: null, is: null });
  });
  test('the short code is what is read aloud: eight signs in two groups', () => {
    expect(formatShortCode('0123456789abcdef')).toBe('0123 4567');
  });
});
