import { fail, succeed, type Result } from '../result.ts';
import { makeFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { lpsPoint } from '../units/frames.ts';
import { applyToPoint, invertAffine } from '../units/affine.ts';
import { compareBone, type BoneShift } from '../volume/compare-bone.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { assessAgatstonSeverity } from './agatston-severity.ts';
import { makeWallProbe } from './calcium-zone.ts';
import type { WallTable } from './find-junction.ts';
import { lpsFromCylinder, type RootFrame } from './root-frame.ts';
import type { RootCalciumScore } from './root-types.ts';
import { scoreAgatston, type AgatstonFailureCode, type AgatstonOptions, type AgatstonRootZone } from './score-agatston.ts';

export type CalciumSeriesFailureCode = AgatstonFailureCode | 'calcium-series-misses-valve' | 'calcium-series-shifted';

/** A non-contrast series of the same frame of reference as the one the root was measured in. */
export interface CalciumSeries {
  readonly volume: CtVolume;
  readonly seriesUid: string | null;
  /** Of pixels and geometry. */
  readonly sha256: string;
  readonly sliceThicknessMm: number | null;
  readonly isContrastDeclared: boolean | null;
  readonly isGated: boolean | null;
  readonly kvp: number | null;
  readonly phasePercent: number | null;
  /** Findings that touch a score, as reasons. */
  readonly doubts: readonly Reason[];
}
export interface CalciumSeriesInput {
  /** The contrast volume the root was measured in, with that root. */
  readonly contrast: CtVolume;
  readonly frame: RootFrame;
  readonly wall: WallTable;
  /** Doubts of the root's place: a doubtful plane is a doubtful zone. */
  readonly placeDoubts: readonly Reason[];
  readonly junctionMm: number | null;
  readonly series: CalciumSeries;
  readonly sex: 'F' | 'M' | 'O' | null;
  readonly isSexConflicting: boolean;
  readonly stamp: FactStamp;
}

/** The valve: leaflets, their hinges and the ring; calcium of the outflow tract and above the sinuses is not its. */
const ZONE_LOW_MM = -2;
const ZONE_HIGH_MM = 20;
/** The heart stands elsewhere in another phase and breath: the zone reaches this far beyond the wall, up and down [M]. */
const MARGIN_MM = 3;
/** The interval holds what the score would be with this much less or more margin. */
const MARGIN_DOUBT_MM = 1.5;
/** Bone this far apart: doubt, refusal. The patient was moved or breathed; the valve lies outside the margin. */
const SHIFT_DOUBT_MM = 2;
const SHIFT_STOP_MM = 6;
/** Below, bone of the two series does not look alike at any shift. */
const LEAST_LIKENESS = 0.4;
/** Calcium of valves and coronaries lies within this of the root; bone farther off. */
const HEART_MM = 55;

/**
 * Agatston score of a non-contrast series at the place of a root measured in another series.
 *
 * Units     HU, mm; AU out. Never mixed with the contrast volume
 * Frame     both series in one frame of reference; beyond that they are not registered, the zone has a margin of 3 mm
 * Fails     calcium-series-misses-valve, calcium-series-shifted, and as scoreAgatston; the severity alone: agatston-sex-missing,
 *           agatston-sex-conflicts
 * Source    docs/methods/agatston.md, "Two series"
 */
export function scoreCalciumSeries(input: CalciumSeriesInput): Result<RootCalciumScore, CalciumSeriesFailureCode> {
  const { series, frame, wall, stamp } = input;
  const highMm = Math.min(input.junctionMm ?? ZONE_HIGH_MM, wall.lowMm + (wall.heights - 1) * wall.stepMm);
  const zone: AgatstonRootZone = { frame, wall, lowMm: ZONE_LOW_MM, highMm, marginMm: MARGIN_MM };
  const outside = measureOutside(series.volume, zone);
  if (outside > 0) {
    return fail('calcium-series-misses-valve', `${Math.round(100 * outside)} % of the border of the valve's place lie outside the non-contrast series: its score would be too low.`,
      'Use a calcium-scoring series that covers the whole valve.', { outsideRatio: Math.round(100 * outside) / 100 });
  }
  const bone = compareBone(input.contrast, series.volume, frame.originLps, HEART_MM);
  const shiftMm = bone && bone.likeness >= LEAST_LIKENESS ? Math.hypot(...bone.shiftMm.map((v) => v ?? 0)) : 0;
  if (shiftMm > SHIFT_STOP_MM) {
    return fail('calcium-series-shifted', `Bone lies ${shiftMm.toFixed(1)} mm apart in the two series: the valve is not where the frame of reference says.`,
      'Score the series by hand, or repeat it without moving the patient.', { shiftMm: Math.round(shiftMm * 10) / 10 });
  }
  const options: AgatstonOptions = {
    sliceThicknessMm: series.sliceThicknessMm, isContrastDeclared: series.isContrastDeclared, isGated: series.isGated, kvp: series.kvp, sex: input.sex, stamp,
  };
  const scored = scoreAgatston(series.volume, zone, options);
  if (!scored.ok) return scored;
  const [less, more] = [-MARGIN_DOUBT_MM, MARGIN_DOUBT_MM].map((mm) => scoreAgatston(series.volume, { ...zone, marginMm: MARGIN_MM + mm }, options));
  const doubts = [...input.placeDoubts, ...series.doubts, ...listDoubts(bone, shiftMm)];
  const widen = (fact: Fact, of: 'scoreAu' | 'volumeMm3'): Fact =>
    widenFact(fact, [less, more].map((s) => (s?.ok ? s.value[of].value : null)), doubts, stamp);
  const score = widen(scored.value.scoreAu, 'scoreAu');
  return succeed({
    score, volumeMm3: widen(scored.value.volumeMm3, 'volumeMm3'), lesions: scored.value.lesions.length,
    severity: judgeSeverity(score, input), zone: { lowMm: ZONE_LOW_MM, highMm, marginMm: MARGIN_MM },
    boneShiftMm: bone && bone.likeness >= LEAST_LIKENESS ? bone.shiftMm : [null, null, null],
    series: {
      seriesUid: series.seriesUid, sha256: series.sha256, slices: series.volume.dims[2], sliceThicknessMm: series.sliceThicknessMm,
      incrementMm: measureIncrement(series.volume), kvp: series.kvp, phasePercent: series.phasePercent, bloodHu: scored.value.bloodHu,
    },
    scoreUnit: 'Agatston units, non-contrast',
  });
}

/** Share of the zone's border without margin that the series does not show. */
function measureOutside(volume: CtVolume, zone: AgatstonRootZone): number {
  const inverse = invertAffine(volume.lpsFromVoxel);
  if (!inverse) return 1;
  const probe = makeWallProbe(zone.wall);
  let [all, out] = [0, 0];
  for (let h = zone.lowMm; h <= zone.highMm; h += 1) {
    for (let a = 0; a < 24; a++) {
      const azimuthRad = (2 * Math.PI * a) / 24;
      const p = applyToPoint(inverse, lpsPoint(...lpsFromCylinder(zone.frame, { azimuthRad, heightMm: h, radiusMm: probe.radiusMm(azimuthRad, h) })));
      all++;
      if (!p.every((v, axis) => v >= -0.5 && v <= volume.dims[axis]! - 0.5)) out++;
    }
  }
  return out / all;
}

/** Distance of neighbouring slices along their normal. */
function measureIncrement(volume: CtVolume): number {
  const r = volume.lpsFromVoxel.rows;
  const n = [r[4]! * r[9]! - r[8]! * r[5]!, r[8]! * r[1]! - r[0]! * r[9]!, r[0]! * r[5]! - r[4]! * r[1]!] as const;
  return Math.abs(n[0] * r[2]! + n[1] * r[6]! + n[2] * r[10]!) / Math.hypot(...n);
}

function listDoubts(bone: BoneShift | null, shiftMm: number): Reason[] {
  if (!bone) return [{ code: 'calcium-series-unchecked', text: 'Too little bone shows in both series to check that they lie together; only their common frame of reference says so.', next: 'Look at both series: does the valve lie at the same place?' }];
  if (bone.likeness < LEAST_LIKENESS) return [{ code: 'calcium-series-bone-differs', text: 'Bone does not look alike in the two series at any shift up to 9 mm.', next: 'Look at both series: does the valve lie at the same place?' }];
  const doubts: Reason[] = [];
  if (shiftMm > SHIFT_DOUBT_MM) {
    doubts.push({ code: 'calcium-series-moved', text: `Bone lies ${shiftMm.toFixed(1)} mm apart in the two series: the patient moved or breathed differently.`, next: 'Look at both series: does the valve lie at the same place?' });
  }
  const unseen = ['left-right', 'front-back', 'head-feet'].filter((_, axis) => bone.shiftMm[axis] === null);
  if (unseen.length > 0) {
    doubts.push({ code: 'calcium-series-partly-checked', text: `Bone shows no edge that tells whether the two series lie together (${unseen.join(', ')}).`, next: 'Look at both series: does the valve lie at the same place?' });
  }
  return doubts;
}

/** The interval also holds what another margin would give. */
function widenFact(fact: Fact, others: readonly (number | null)[], doubts: readonly Reason[], stamp: FactStamp): Fact {
  const { value, low, high } = fact;
  if (value === null || low === null || high === null) return fact;
  const known = others.filter((v) => v !== null);
  const down = Math.hypot(value - low, ...known.map((v) => Math.max(0, value - v)));
  const up = Math.hypot(high - value, ...known.map((v) => Math.max(0, v - value)));
  return makeFact(value, Math.max(0, value - down), value + up, fact.unit, fact.source.method, fact.source.from, stamp, [...fact.reasons, ...doubts]);
}

function judgeSeverity(score: Fact, input: CalciumSeriesInput): RootCalciumScore['severity'] {
  const refused = (reason: Reason): RootCalciumScore['severity'] => ({ likelihood: null, couldBe: null, sex: null, threshold: null, reasons: [reason] });
  if (input.isSexConflicting) {
    return refused({ code: 'agatston-sex-conflicts', text: 'What was entered about the patient and the picture headers name different sexes; the thresholds differ by sex.', next: 'Correct the entry or the header.' });
  }
  const judged = assessAgatstonSeverity({ value: score.value ?? NaN, low: score.low ?? NaN, high: score.high ?? NaN }, input.sex);
  if (!judged.ok) return refused({ code: judged.failure.code, text: judged.failure.message, next: judged.failure.nextStep });
  const { likelihood, by, couldBe, isVerified } = judged.value;
  const reasons: Reason[] = [{
    code: 'agatston-thresholds-unsigned', text: `Published thresholds that this hospital has not signed${isVerified ? '' : '; the one that decided is unverified'}.`,
    next: 'Have the thresholds signed before they count.',
  }];
  if (couldBe[0] !== couldBe[1]) reasons.push({ code: 'agatston-severity-open', text: 'The interval of the score crosses a threshold.', next: 'Weigh it with gradient and valve area.' });
  return { likelihood, couldBe, sex: input.sex === 'F' || input.sex === 'M' ? input.sex : null, threshold: by, reasons };
}
