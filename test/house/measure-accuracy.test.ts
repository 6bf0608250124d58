import { describe, expect, test } from 'vitest';
import { makeSeededShape } from '../../src/core/phantom/draw-seeded-shape.ts';
import { arrangeHeart } from '../../src/core/phantom/heart-anatomy.ts';
import { measureTruth } from '../../src/core/phantom/measure-truth.ts';
import type { PhantomTruth } from '../../src/core/phantom/phantom-types.ts';

type ErrorRow = readonly [key: string, error: number | null, covered: boolean | null];
interface Result {
  readonly seed: number;
  readonly refused?: string;
  readonly errors?: readonly ErrorRow[];
}
interface Row {
  readonly key: string;
  readonly n: number;
  readonly unanswered: number;
  readonly median: number;
  readonly p95: number;
  readonly mean: number | null;
  readonly coverage: number | null;
  readonly misses: readonly string[];
}
const { compareWithTruth, summarizeErrors, drawAccuracyTable } = (await import(new URL('../../tools/measure-accuracy.mjs', import.meta.url).href)) as {
  compareWithTruth(root: unknown, truth: PhantomTruth): ErrorRow[];
  summarizeErrors(results: readonly Result[]): Row[];
  drawAccuracyTable(seeds: readonly number[], results: readonly Result[], rows: readonly Row[]): string;
};

const { shape } = makeSeededShape(2);
const truth = measureTruth(arrangeHeart(shape));
const CUSPS = ['R', 'L', 'N'] as const;
const exact = (value: number): object => ({ value, low: value - 1e-9, high: value + 1e-9 });
const refused = { value: null, low: null, high: null };

/** A survey that answers exactly the truth. */
function makePerfectRoot(): Record<string, unknown> {
  const ring = (t: PhantomTruth['basalRing']): object => ({
    heightMm: t.heightMm, areaMm2: exact(t.areaMm2), perimeterMm: exact(t.perimeterMm), minDiameterMm: exact(t.minDiameterMm), maxDiameterMm: exact(t.maxDiameterMm),
  });
  const byCusp = (f: (c: (typeof CUSPS)[number]) => object): object => ({ R: f('R'), L: f('L'), N: f('N') });
  const c = truth.calcium;
  return {
    basalPlane: { ...truth.basalPlane, tiltUncertaintyDeg: 0.1, nadirUncertaintyMm: { R: 0.1, L: 0.1, N: 0.1 } },
    basalRing: ring(truth.basalRing), outflowTract: ring(truth.outflowTract), levels: truth.levels.map(ring), angulationDeg: exact(truth.angulationDeg),
    sinuses: { widthMm: byCusp((k) => exact(truth.sinuses.widthMm[k])), heightMm: byCusp((k) => exact(truth.sinuses.heightMm[k])) },
    sinotubularJunction: { heightMm: exact(truth.sinotubularJunction.heightMm), diameterMm: exact(truth.sinotubularJunction.diameterMm) },
    ascendingAorta: { diameterMm: exact(truth.ascendingAorta.diameterMm) },
    coronaries: { left: { heightMm: exact(truth.coronaries.left!.centreHeightMm) }, right: { heightMm: exact(truth.coronaries.right!.centreHeightMm) } },
    leaflets: byCusp((k) => ({ lengthMm: exact(truth.leaflets[k].lengthMm) })),
    septum: { bulgeMm: exact(truth.septum.insideRingMm) },
    calcium: { volumeMm3: exact(c.byCuspMm3.R + c.byCuspMm3.L + c.byCuspMm3.N + c.outflowMm3), deposits: c.deposits },
  } as Record<string, unknown>;
}

const errorsOf = (root: unknown, key: string): ErrorRow[] => compareWithTruth(root, truth).filter((e) => e[0] === key);

describe('comparing a survey with the truth', () => {
  test('the truth itself has no error and lies in every interval', () => {
    for (const [key, error, covered] of compareWithTruth(makePerfectRoot(), truth)) {
      expect(Math.abs(error ?? Infinity), key).toBeLessThan(2e-6);
      expect(covered, key).not.toBe(false);
    }
  });

  test('an area 2 % too large outside its interval is an error of 2 % that is not covered', () => {
    const root = makePerfectRoot();
    const moved = { ...root, basalRing: { ...(root['basalRing'] as object), areaMm2: exact(1.02 * truth.basalRing.areaMm2) } };
    expect(errorsOf(moved, 'area')[0]![1]).toBeCloseTo(2, 9);
    expect(errorsOf(moved, 'area')[0]![2]).toBe(false);
  });

  test('a refused number, a missing ostium and a missing level are not answered, not left out', () => {
    const root = { ...makePerfectRoot(), coronaries: {}, levels: [], ascendingAorta: { diameterMm: refused } };
    expect(errorsOf(root, 'left')).toEqual([['left', null, null]]);
    expect(errorsOf(root, 'ascending')).toEqual([['ascending', null, null]]);
    expect(errorsOf(root, 'below')).toHaveLength(12);
  });

  test('a large deposit that was not found counts as -100 %', () => {
    const large = truth.calcium.deposits.filter((d) => d.volumeMm3 >= 20).length;
    expect(large).toBeGreaterThan(0);
    const root = { ...makePerfectRoot(), calcium: { volumeMm3: exact(0), deposits: [] } };
    expect(errorsOf(root, 'deposit').map((e) => e[1])).toEqual(new Array<number>(large).fill(-100));
  });
});

describe('summing up', () => {
  const results: Result[] = Array.from({ length: 20 }, (_, i) => ({ seed: i + 1, errors: [['area', i - 9, i > 0], ['tilt', i / 10, true]] }));
  const rows = summarizeErrors([...results, { seed: 21, refused: 'root-not-found' }]);
  const row = (key: string): Row => rows.find((r) => r.key === key)!;

  test('median, 95th percentile, mean and coverage of -9 to 10', () => {
    // Sizes in order: 0, 1 1, 2 2 ... 9 9, 10; the 10th of 20 is 5, the 19th is 9.
    expect(row('area')).toMatchObject({ n: 20, unanswered: 0, median: 5, p95: 9, mean: 0.5, coverage: 0.95, misses: ['median', '95th percentile'] });
  });

  test('every truth covered is too wide an interval', () => {
    expect(row('tilt').misses).toEqual(['coverage']);
  });

  test('a quantity never answered meets no goal', () => {
    expect(row('left').misses).toEqual(['median', '95th percentile', 'coverage']);
  });

  test('refusals are named and 1 of 21 is few', () => {
    const text = drawAccuracyTable([1, 21], [...results, { seed: 21, refused: 'root-not-found' }], rows);
    expect(text).toContain('Refused as a whole: 1 (1 root-not-found); goal at most 5 %: met.');
    expect(text).toContain('| basal ring, area | % | 20 | 0 | 5.00 | 9.00 | 0.50 | 95.0 % | 1.5 / 3 | no: median, 95th percentile |');
  });
});
