import { beforeAll, describe, expect, test } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import { makeSurveyFixture } from '../../../test/support/survey-document-fixtures.ts';
import { listFacts, SURVEY_STAMP } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { cutToRoot } from '../phantom/phantom-variants.ts';
import { shareBelow } from './recut-calcium.ts';
import { recutRing, recutRoot, type RecutAnswer } from './recut-root.ts';
import { CUSPS, type ByCusp, type Landmarks, type RootSurvey, type Xyz } from './root-types.ts';
import { makeSurveyDocument, type SurveyDocument } from './survey-document.ts';
import { surveyRoot, type SurveyAnswer } from './survey-root.ts';

const at = (deg: number, heightMm: number, radiusMm = 12): Xyz => [radiusMm * Math.cos((deg * Math.PI) / 180), radiusMm * Math.sin((deg * Math.PI) / 180), heightMm];
/** Nadirs on the plane z = h + 12 tan(deg) cos(azimuth) about a tube of 12 mm. */
const nadirsOf = (deg: number, h = 0): ByCusp<Xyz> => {
  const up = (a: number): Xyz => at(a, h + 12 * Math.tan((deg * Math.PI) / 180) * Math.cos((a * Math.PI) / 180));
  return { R: up(0), L: up(120), N: up(240) };
};
const marksOf = (nadirsLps: ByCusp<Xyz>, more: Partial<Landmarks> = {}): Landmarks => ({ format: 'trinadir.landmarks/1', by: 'anna', nadirsLps, ...more });
const tube = makeSurveyFixture(() => 12);
const root = makeTestRoot({ diameterMm: 24, deposits: [{ centreLps: [11, 0, -0.5], volumeMm3: 60, cusp: 'R', heightMm: -0.5, protrusionMm: 1 }] });
function recut(marks: Landmarks | null, document: SurveyDocument = tube, of: RootSurvey = root): RecutAnswer {
  const answer = recutRoot(of, document, marks, SURVEY_STAMP);
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
}
const codeOf = (marks: Landmarks | null, document: SurveyDocument = tube, of: RootSurvey = root): string => {
  const answer = recutRoot(of, document, marks, SURVEY_STAMP);
  return answer.ok ? 'cut' : answer.failure.code;
};

describe('recutRoot on a wall that is known', () => {
  test('a tube cut at 8 degrees has the ring of an ellipse and a plane turned by 8 degrees', () => {
    const { root: now, frame } = recut(marksOf(nadirsOf(8)));
    expectWithin(now.basalRing.areaMm2.value!, (Math.PI * 144) / Math.cos((8 * Math.PI) / 180), { relative: 2e-4, absolute: 0, from: 'ring of 360 chords' });
    expectWithin(now.basalRing.maxDiameterMm.value!, 24 / Math.cos((8 * Math.PI) / 180), { relative: 0, absolute: 0.01, from: 'widths every 2 degrees' });
    expectWithin(now.angulationDeg.value!, 8, { relative: 0, absolute: 1e-6, from: 'rounding' });
    expect(frame.normalLps[0]).toBeLessThan(0);
    expect(now.basalPlane.nadirsLps).toEqual(nadirsOf(8));
    expect(now.basalRing.areaMm2.source.kind).toBe('edited');
  });
  test('a plane 2 mm higher lowers ostia and deposits by 2 mm; the ostium itself stays where it is', () => {
    const { root: now } = recut(marksOf(nadirsOf(0, 2)));
    expect(now.coronaries.left!.ostiumLps).toEqual(root.coronaries.left!.ostiumLps);
    expectWithin(now.coronaries.left!.heightMm.value!, 11, { relative: 0, absolute: 1e-9, from: 'rounding' });
    expectWithin(now.calcium!.deposits[0]!.heightMm, -2.5, { relative: 0, absolute: 1e-9, from: 'rounding' });
    // A ball of 60 mm3 has 2.43 mm radius: before 0.5, now 2.5 mm below the plane, wholly under it.
    const share = (h: number): number => shareBelow(-h, Math.cbrt(45 / Math.PI));
    expectWithin(now.calcium!.outflowMm3.value! - root.calcium!.outflowMm3.value!, 60 * (share(-2.5) - share(-0.5)), { relative: 0, absolute: 1e-9, from: 'rounding' });
    expect(share(-2.5)).toBe(1);
    expectWithin(now.calcium!.volumeMm3.value!, root.calcium!.volumeMm3.value!, { relative: 0, absolute: 0, from: 'nothing is lost' });
  });
  test('an ostium set by hand takes its height from the mark and nothing else moves', () => {
    const now = recut({ format: 'trinadir.landmarks/1', by: 'anna', ostiaLps: { left: at(118, 15.5, 16) } });
    expectWithin(now.root.coronaries.left!.heightMm.value!, 15.5, { relative: 0, absolute: 1e-9, from: 'rounding' });
    expect({ ...now.root, coronaries: null }).toEqual({ ...root, coronaries: null });
    expect(now.root.coronaries.right).toBe(root.coronaries.right);
    expect(now.pending).toEqual([]);
  });
  test('where the nadirs are those of the last survey with marks, an ostium alone moves', () => {
    const nadirsLps = nadirsOf(0);
    const before = { ...root, basalPlane: { ...root.basalPlane, nadirsLps } };
    const now = recut(marksOf(nadirsLps, { ostiaLps: { right: at(2, 14, 16) } }), { ...tube, isMarked: true }, before);
    expectWithin(now.root.coronaries.right!.heightMm.value!, 14, { relative: 0, absolute: 1e-9, from: 'rounding' });
    expect({ ...now.root, coronaries: null }).toEqual({ ...before, coronaries: null });
    expect(now.pending).toEqual([]);
  });
  test('a contour by hand is the ring', () => {
    const contourLps = Array.from({ length: 24 }, (_, i) => at(15 * i, 0, 12.6));
    const now = recut(marksOf(nadirsOf(0), { contourLps }));
    expectWithin(now.root.basalRing.areaMm2.value!, Math.PI * 12.6 ** 2, { relative: 2e-3, absolute: 0, from: 'spline through 24 points' });
    expectWithin(now.root.levels.find((l) => l.heightMm === 5)!.areaMm2.value!, Math.PI * 144, { relative: 2e-4, absolute: 0, from: 'ring of 360 chords' });
    expect(now.messages.map((m) => m.code)).toContain('contour-by-hand');
  });
  test('the ring while dragging is the ring after the drop', () => {
    const document = makeSurveyFixture();
    const nadirs = nadirsOf(5, 0.7);
    const quick = recutRing(document, nadirs);
    const whole = recut(marksOf(nadirs), document).root.basalRing;
    if (!quick.ok) throw new Error(quick.failure.code);
    expect([quick.value.ring.areaMm2, quick.value.ring.perimeterMm]).toEqual([whole.areaMm2.value, whole.perimeterMm.value]);
    expect(quick.value.contourLps).toEqual(whole.contourLps);
  });
  test('refuses what the wall cannot answer', () => {
    expect(codeOf(marksOf({ R: at(0, 0), L: at(0, 0, 24), N: at(0, 0, 36) }))).toBe('nadirs-collinear');
    expect(codeOf(marksOf({ R: at(0, 0, 2), L: at(120, 0, 2), N: at(240, 0, 2) }))).toBe('nadirs-implausible');
    expect(codeOf(marksOf(nadirsOf(24)))).toBe('recut-too-far');
    expect(codeOf(marksOf(nadirsOf(0, -7)))).toBe('recut-too-far');
    expect(codeOf(marksOf({ R: [NaN, 0, 0], L: at(120, 0), N: at(240, 0) }))).not.toBe('cut');
  });
  test('marks given back to the tool need the picture', () => {
    expect(codeOf(null, { ...tube, isMarked: true })).toBe('recut-needs-scan');
    expect(codeOf(null)).toBe('cut');
    const drawn = recut(marksOf(nadirsOf(0), { contourLps: Array.from({ length: 24 }, (_, i) => at(15 * i, 0, 12.6)) })).root;
    expect(codeOf(null, tube, drawn)).toBe('recut-needs-scan');
    const byHand = recut({ format: 'trinadir.landmarks/1', by: 'anna', ostiaLps: { left: at(118, 15.5, 16) } }).root;
    expect(recut(null, tube, byHand).pending).toEqual(['coronaries']);
  });
});

describe('recutRoot against the survey with the same marks (phantom seed 7)', () => {
  let auto: SurveyAnswer;
  let marked: SurveyAnswer;
  let marks: Landmarks;
  const documentOf = (a: SurveyAnswer): SurveyDocument => makeSurveyDocument(a, { madeBy: 'test', frameOfReferenceUid: null, patientPosition: null, cuts: { cuts: [] } });
  beforeAll(() => {
    const { shape, scan } = makeSeededShape(7);
    const { volume } = drawPhantom(shape, cutToRoot(shape, { ...scan, spacingMm: [0.6, 0.6, 0.7], sliceThicknessMm: 0.7 }, 84));
    const survey = (m?: Landmarks): SurveyAnswer => {
      const a = surveyRoot(volume, { stamp: SURVEY_STAMP, doubts: [], marks: m });
      if (!a.ok) throw new Error(a.failure.code);
      return a.value;
    };
    auto = survey();
    const n = auto.frame.normalLps;
    const { R, L, N } = auto.root.basalPlane.nadirsLps;
    marks = marksOf({ R: [R[0] + 1.5 * n[0], R[1] + 1.5 * n[1], R[2] + 1.5 * n[2]], L, N });
    marked = survey(marks);
  }, 300000); // two surveys; the machine may be shared

  const PENDING = /^(leaflets|ascendingAorta|calcium)/;
  test('from the automatic wall every number that needs no picture comes within its interval', () => {
    const { root: now } = recut(marks, documentOf(auto), auto.root);
    const [wanted, got] = [listFacts(marked.root), listFacts(now)];
    let compared = 0;
    for (const [path, fact] of wanted) {
      const other = got.get(path);
      if (PENDING.test(path) || (!other && path.startsWith('levels'))) continue;
      expectWithin(other!.value!, fact.value!, { relative: 0, absolute: 0.8 * (fact.high! - fact.value!), from: `method page: 95 % of the differences are below 0.4 of the half-width (${path})` });
      compared++;
    }
    expect(compared).toBeGreaterThan(100);
  });
  test('from the marked wall the same marks give value and interval again: both use one set of formulas', () => {
    // A hundredth of a millimetre off: the very same marks are not cut anew.
    const { R } = marks.nadirsLps!;
    const { root: now } = recut({ ...marks, nadirsLps: { ...marks.nadirsLps!, R: [R[0] + 0.01, R[1], R[2]] } }, documentOf(marked), marked.root);
    const got = listFacts(now);
    for (const [path, fact] of listFacts(marked.root)) {
      if (PENDING.test(path) && !path.startsWith('calcium')) continue;
      const half = fact.high! - fact.low!;
      const other = got.get(path)!;
      expectWithin(other.value!, fact.value!, { relative: 0, absolute: 0.12 * half, from: `the axis is set through the mended wall's middle (${path})` });
      expectWithin(other.high! - other.low!, half, { relative: 0.06, absolute: 1e-3, from: `as above (${path})` });
      expect(other.reasons.map((r) => r.code), path).toEqual(fact.reasons.map((r) => r.code));
    }
    for (const c of CUSPS) expect(now.basalPlane.nadirUncertaintyMm[c]).toBe(marked.root.basalPlane.nadirUncertaintyMm[c]);
    expectWithin(now.basalPlane.tiltUncertaintyDeg, marked.root.basalPlane.tiltUncertaintyDeg, { relative: 2e-3, absolute: 0, from: 'a hundredth of a millimetre in 20 mm' });
  });
});
