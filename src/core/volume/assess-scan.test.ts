import { describe, expect, test } from 'vitest';
import type { VolumeGrid } from './assemble-volume.ts';
import { assessGeometry, type GeometryContext } from './assess-scan-geometry.ts';
import { rankVolumes, type ProposalCandidate } from './assess-scan-proposal.ts';
import { decideVerdict, makeFinding, sortFindings } from './assess-scan.ts';

const GRID: VolumeGrid = {
  used: [], dims: [512, 512, 200], lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [] }, spacingMm: [0.4, 0.4, 0.5],
  stepMm: 0.5, coverageMm: 100, shearDeg: 0, residualMm: 0, breaks: [], gapRangeMm: [0.5, 0.5],
};
const CONTEXT: GeometryContext = {
  origin: 'dicom', slicesGiven: 200, duplicates: 0, sliceThicknessMm: 0.5, patientPosition: 'HFS', phasePercent: 30, hasTriggerTime: true,
  hasPadding: false, isDerived: false, framesOfReference: 1, isFrameIgnored: false, isRescaleMissing: false, isLossy: false,
};
const codes = (grid: Partial<VolumeGrid>, context: Partial<GeometryContext> = {}): string[] =>
  assessGeometry({ ...GRID, ...grid }, { ...CONTEXT, ...context }).map((f) => `${f.severity} ${f.code}`);

describe('assessGeometry', () => {
  test('finds nothing wrong with a thin, gated, supine scan of the heart', () => {
    expect(codes({})).toEqual([]);
  });
  test('root slices: fine up to 1.0 mm, doubt up to 2.0 mm, stop above', () => {
    const at = (mm: number) => codes({ stepMm: mm, spacingMm: [0.4, 0.4, mm] }, { sliceThicknessMm: mm });
    expect(at(1.0)).toEqual([]);
    expect(at(1.1)).toEqual(['doubt slices-thick']);
    expect(at(1.5)).toEqual(['doubt slices-thick']);
    expect(at(2.0)).toEqual(['doubt slices-thick']);
    expect(at(2.1)).toEqual(['stop slices-thick']);
    expect(at(3.0)).toEqual(['stop slices-thick']);
  });
  test('judges the blur, not the step: thick slices at a fine step stay thick', () => {
    expect(codes({}, { sliceThicknessMm: 3 })).toEqual(['stop slices-thick', 'note slices-overlap']);
    expect(codes({ stepMm: 1 }, { sliceThicknessMm: 0.6 })).toEqual(['doubt slices-gapped']);
  });
  test('heart phase: systole is 20 to 45 per cent, ends included', () => {
    const at = (phasePercent: number | null, more: Partial<GeometryContext> = {}) => codes({}, { phasePercent, ...more });
    expect([at(20), at(45)]).toEqual([[], []]);
    expect([at(19), at(46), at(75)]).toEqual([['doubt phase-early'], ['doubt phase-diastolic'], ['doubt phase-diastolic']]);
    expect([at(null), at(null, { hasTriggerTime: false })]).toEqual([['doubt phase-unknown'], ['doubt not-gated']]);
  });
  test('posture: on the back head or feet first; else angles are withheld', () => {
    const at = (patientPosition: string | null) => codes({}, { patientPosition });
    expect([at('HFS'), at('FFS')]).toEqual([[], []]);
    expect([at('HFP'), at('FFDR'), at(null)]).toEqual([['note not-supine'], ['note not-supine'], ['note posture-unknown']]);
  });
  test('coverage and field: just under and at their limits', () => {
    expect(codes({ coverageMm: 59.9 })).toEqual(['stop coverage-too-short']);
    expect(codes({ coverageMm: 60 })).toEqual([]);
    expect(codes({ dims: [512, 512, 9] })).toEqual(['stop too-few-slices']);
    expect(codes({ dims: [299, 512, 200] })).toEqual(['doubt field-cropped']);
    expect(codes({ dims: [149, 512, 200] })).toEqual(['stop field-cropped']);
  });
  test('says what a research file does not carry', () => {
    expect(codes({}, { origin: 'research', sliceThicknessMm: null, patientPosition: null, phasePercent: null, hasTriggerTime: false }))
      .toEqual(['doubt phase-unknown', 'note posture-unknown', 'note header-bare']);
  });
});

describe('sortFindings and decideVerdict', () => {
  test('put stops first, the most basic one foremost, whatever the order found', () => {
    const findings = [makeFinding('padding-declared', 'note', '', ''), makeFinding('contrast-none', 'stop', '', ''), makeFinding('not-gated', 'doubt', '', ''), makeFinding('spacing-uneven', 'stop', '', '')];
    expect(sortFindings(findings).map((f) => f.code)).toEqual(['spacing-uneven', 'contrast-none', 'not-gated', 'padding-declared']);
    expect(sortFindings([...findings].reverse()).map((f) => f.code)).toEqual(['spacing-uneven', 'contrast-none', 'not-gated', 'padding-declared']);
    expect([decideVerdict(findings), decideVerdict(findings.filter((f) => f.severity !== 'stop')), decideVerdict([findings[0]!])]).toEqual(['not fit', 'fit with doubt', 'fit']);
  });
});

describe('rankVolumes', () => {
  const GOOD: ProposalCandidate = {
    key: 'b', hasStop: false, contrastHu: 400, isContrastDeclared: true, isContrastAbsent: false, noiseHu: 25, coverageMm: 140, sliceMm: 0.6,
    phasePercent: 35, isDerived: false,
  };
  const first = (other: Partial<ProposalCandidate>): string => rankVolumes([{ ...GOOD, key: 'a', ...other }, GOOD])[0]!.key;
  test('prefers contrast, coverage, thin slices, systole, low noise and originals, each alone', () => {
    for (const worse of [{ contrastHu: 210 }, { contrastHu: null, isContrastAbsent: true }, { coverageMm: 70 }, { sliceMm: 1.5 }, { phasePercent: 75 }, { noiseHu: 80 }, { isDerived: true }]) {
      expect(first(worse), JSON.stringify(worse)).toBe('b');
    }
  });
  test('lists a volume with a stop last, however good it looks', () => {
    const ranking = rankVolumes([{ ...GOOD, key: 'a', hasStop: true }, { ...GOOD, contrastHu: 160, phasePercent: null }]);
    expect(ranking.map((r) => [r.key, r.isEligible])).toEqual([['b', true], ['a', false]]);
    expect(ranking[1]!.reasons[0]).toBe('cannot be measured, see findings');
  });
  test('does not depend on the order handed in, also among equals', () => {
    const all = ['c', 'a', 'b'].map((key) => ({ ...GOOD, key }));
    expect(rankVolumes(all).map((r) => r.key)).toEqual(['a', 'b', 'c']);
    expect(rankVolumes([...all].reverse())).toEqual(rankVolumes(all));
  });
});
