import { describe, expect, test } from 'vitest';
import { listFacts, SURVEY_STAMP } from '../../../test/support/survey-fixtures.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { makeSeededFusion } from '../phantom/fuse-cusps.ts';
import type { PhantomScan, PhantomShape } from '../phantom/phantom-types.ts';
import { cutToRoot } from '../phantom/phantom-variants.ts';
import type { Fact } from '../units/fact.ts';
import { surveyRoot, type SurveyAnswer } from './survey-root.ts';

/** Seed 6: right and left cusp grown together in the second case, the same root and the same scan otherwise. */
const SEED = 6;
function measure(shape: PhantomShape, scan: PhantomScan): SurveyAnswer {
  const quick = cutToRoot(shape, { ...scan, spacingMm: [0.6, 0.6, 0.6], sliceThicknessMm: 0.6 }, 84);
  const answer = surveyRoot(drawPhantom(shape, quick).volume, { stamp: SURVEY_STAMP, doubts: [] });
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
}
const codes = (a: SurveyAnswer): string[] => a.messages.map((m) => m.code).filter((c) => c.startsWith('valve'));
const carries = (fact: Fact | undefined, code: string): boolean => fact?.reasons.some((r) => r.code === code) ?? false;

describe(`checkValve in the survey (phantom seed ${SEED})`, () => {
  const { scan } = makeSeededShape(SEED);
  test('three free cusps: not a word about the valve', () => {
    expect(codes(measure(makeSeededShape(SEED).shape, scan))).toEqual([]);
  });
  test('right and left cusp grown together: named as a pair; sinuses carry the doubt, the ring does not', () => {
    const { shape, fusion } = makeSeededFusion(SEED);
    expect(fusion.valve).toBe('fused-R-L');
    const fused = measure(shape, scan);
    expect(codes(fused)).toEqual(['valve-maybe-fused']);
    expect(fused.messages.find((m) => m.code === 'valve-maybe-fused')?.text).toContain('cusps R and L:');
    const facts = listFacts(fused.root);
    for (const cusp of ['R', 'L', 'N']) expect(carries(facts.get(`sinuses.widthMm.${cusp}`), 'valve-maybe-fused')).toBe(true);
    expect(carries(facts.get('basalRing.areaMm2'), 'valve-maybe-fused')).toBe(false);
  });
});
