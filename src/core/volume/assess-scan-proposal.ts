import { formatText } from '../text/catalogue.ts';
import { FINDINGS_EN } from '../text/findings-en.ts';
import { SCAN_LIMITS as L } from './assess-scan-limits.ts';

/** What is known of a volume when one must be chosen; contrast from a few sample slices, null when not looked at. */
export interface ProposalCandidate {
  readonly key: string;
  readonly hasStop: boolean;
  readonly contrastHu: number | null;
  readonly isContrastDeclared: boolean | null;
  /** Sample slices were read and no bright blood was seen in any. */
  readonly isContrastAbsent: boolean;
  readonly noiseHu: number | null;
  readonly coverageMm: number;
  /** The larger of step and thickness. */
  readonly sliceMm: number;
  readonly phasePercent: number | null;
  readonly isDerived: boolean;
}
export interface RankedVolume {
  readonly key: string;
  readonly score: number;
  readonly reasons: readonly string[];
  readonly isEligible: boolean;
}

/**
 * Which volume to measure: points for contrast (40), coverage (20), thin slices (20), systolic phase (20), less for
 * noise and derived series. Best first; equal points are settled by coverage, slice, then key. A volume with a stop is listed last.
 * Source    docs/methods/scan-fitness.md
 */
export function rankVolumes(candidates: readonly ProposalCandidate[]): readonly RankedVolume[] {
  return candidates
    .map((c) => ({ c, ranked: scoreVolume(c) }))
    .sort((a, b) =>
      Number(b.ranked.isEligible) - Number(a.ranked.isEligible) || b.ranked.score - a.ranked.score ||
      b.c.coverageMm - a.c.coverageMm || a.c.sliceMm - b.c.sliceMm || (a.c.key < b.c.key ? -1 : 1))
    .map(({ ranked }) => ranked);
}

function scoreVolume(c: ProposalCandidate): RankedVolume {
  const parts = [scoreContrast(c), scoreCoverage(c), scoreSlice(c), scorePhase(c), scoreQuality(c)].filter((p) => p.reason !== '');
  const score = parts.reduce((sum, part) => sum + part.points, 0);
  return {
    key: c.key, score: Math.round(score * 10) / 10, isEligible: !c.hasStop,
    reasons: [...(c.hasStop ? [FINDINGS_EN.whyNot] : []), ...parts.map((part) => part.reason)],
  };
}

interface Part {
  readonly points: number;
  readonly reason: string;
}

function scoreContrast(c: ProposalCandidate): Part {
  const hu = c.contrastHu;
  if (hu !== null) {
    const points = hu >= L.contrastAdequateHu.value ? 40 : hu >= L.contrastLowHu.value ? 30 : 15;
    return { points, reason: formatText(FINDINGS_EN, 'whyContrast', { hu: hu.toFixed(0) }) };
  }
  if (c.isContrastAbsent) return { points: 0, reason: FINDINGS_EN.whyNoContrast };
  return c.isContrastDeclared === true
    ? { points: 20, reason: FINDINGS_EN.whyContrastDeclared }
    : { points: 10, reason: FINDINGS_EN.whyContrastUnknown };
}

function scoreCoverage(c: ProposalCandidate): Part {
  const points = 20 * Math.min(1, Math.max(0, (c.coverageMm - L.coverageMm.value) / 40 + 0.25));
  return { points, reason: formatText(FINDINGS_EN, 'whyCoverage', { mm: c.coverageMm.toFixed(0) }) };
}

function scoreSlice(c: ProposalCandidate): Part {
  const mm = c.sliceMm;
  const points = mm <= 0.8 ? 20 : mm <= L.rootSliceMm.value * 1.02 ? 18 : mm <= 1.5 ? 10 : mm <= 2 ? 4 : 0;
  return { points, reason: formatText(FINDINGS_EN, 'whySlice', { mm: mm.toFixed(2) }) };
}

function scorePhase(c: ProposalCandidate): Part {
  const phase = c.phasePercent;
  if (phase === null) return { points: 8, reason: FINDINGS_EN.whyPhaseUnknown };
  const isSystolic = phase >= L.phaseLowPercent.value && phase <= L.phaseHighPercent.value;
  // Inside the window the middle of systole is as good as any; 1 point settles ties toward 35 %.
  const points = isSystolic ? 19 + Math.max(0, 1 - Math.abs(phase - 35) / 20) : 4;
  return { points, reason: formatText(FINDINGS_EN, isSystolic ? 'whySystolic' : 'whyNotSystolic', { phase: phase.toFixed(0) }) };
}

function scoreQuality(c: ProposalCandidate): Part {
  const reasons: string[] = [];
  let points = 0;
  if (c.noiseHu !== null && c.noiseHu > L.noiseHighHu.value) {
    points -= c.noiseHu > 2 * L.noiseHighHu.value ? 15 : 6;
    reasons.push(formatText(FINDINGS_EN, 'whyNoise', { hu: c.noiseHu.toFixed(0) }));
  }
  if (c.isDerived) {
    points -= 3;
    reasons.push(FINDINGS_EN.whyDerived);
  }
  return { points, reason: reasons.join(', ') };
}
