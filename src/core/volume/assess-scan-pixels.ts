import { formatText } from '../text/catalogue.ts';
import { FINDINGS_EN } from '../text/findings-en.ts';
import { SCAN_LIMITS as L } from './assess-scan-limits.ts';
import { makeFinding, sortFindings } from './assess-scan.ts';
import type { CtStatistics } from './ct-statistics.ts';
import type { CtVolume, Finding } from './volume-types.ts';

/** Muscle and unenhanced wall beside the blood. */
const TISSUE_HU = 50;

/**
 * What the pixels say about measuring the root: coded findings, worst first.
 * Source    docs/methods/scan-fitness.md; limits with status in assess-scan-limits.ts
 */
export function assessPixels(volume: CtVolume, statistics: CtStatistics): readonly Finding[] {
  return sortFindings([
    ...assessContrast(statistics), ...assessNoise(statistics), ...assessMetal(statistics), ...assessSteps(volume, statistics),
  ]);
}

function assessContrast(s: CtStatistics): Finding[] {
  if (!s.contrastHu) {
    const none = L.contrastNoneHu.value;
    const seen =
      s.brightestHu === null ? FINDINGS_EN.seenNothing
      : s.brightestHu < none ? formatText(FINDINGS_EN, 'seenFaint', { hu: s.brightestHu.toFixed(0) })
      : formatText(FINDINGS_EN, 'seenUneven', { hu: s.brightestHu.toFixed(0) });
    return [makeFinding('contrast-none', 'stop',
      formatText(FINDINGS_EN, 'contrastNone', { none, seen }), FINDINGS_EN.contrastNext)];
  }
  const hu = s.contrastHu.valueHu;
  if (hu < L.contrastLowHu.value) {
    return [makeFinding('contrast-low', 'doubt',
      formatText(FINDINGS_EN, 'contrastLow', { hu: hu.toFixed(0), adequate: L.contrastAdequateHu.value }), FINDINGS_EN.contrastNext)];
  }
  if (hu < L.contrastAdequateHu.value) {
    return [makeFinding('contrast-modest', 'note',
      formatText(FINDINGS_EN, 'contrastModest', { hu: hu.toFixed(0), adequate: L.contrastAdequateHu.value }),
      FINDINGS_EN.contrastModestNext)];
  }
  return [];
}

function assessNoise(s: CtStatistics): Finding[] {
  if (!s.noiseHu) return [];
  const noise = s.noiseHu.valueHu;
  const ratio = s.contrastHu && noise > 0 ? (s.contrastHu.valueHu - TISSUE_HU) / noise : Infinity;
  if (ratio < L.contrastToNoiseStop.value) {
    return [makeFinding('noise-high', 'stop', formatText(FINDINGS_EN, 'noiseStop', { noise: noise.toFixed(0), ratio: ratio.toFixed(1) }), FINDINGS_EN.noiseNext)];
  }
  return noise > L.noiseHighHu.value ? [makeFinding('noise-high', 'doubt', formatText(FINDINGS_EN, 'noiseHigh', { noise: noise.toFixed(0) }), FINDINGS_EN.noiseNext)] : [];
}

function assessMetal(s: CtStatistics): Finding[] {
  if (s.metalMl <= L.metalMl.value) return [];
  return [makeFinding('metal-heavy', 'doubt', formatText(FINDINGS_EN, 'metalHeavy', { ml: s.metalMl.toFixed(1), hu: L.metalHu.value }),
    FINDINGS_EN.metalHeavyNext)];
}

function assessSteps(volume: CtVolume, s: CtStatistics): Finding[] {
  const jumps = s.steps.filter((step) => step.shiftMm > L.stepMm.value && step.sigmas > L.stepSigmas.value);
  const worst = jumps[0];
  if (!worst) return [];
  const atMm = worst.slice * volume.spacingMm[2];
  return [makeFinding('motion-step', 'doubt',
    formatText(FINDINGS_EN, 'motionStep', {
      shift: worst.shiftMm.toFixed(1), before: worst.slice + 1, after: worst.slice + 2, at: atMm.toFixed(0),
      more: jumps.length > 1 ? formatText(FINDINGS_EN, 'motionStepMore', { count: jumps.length - 1 }) : '',
    }),
    FINDINGS_EN.motionStepNext)];
}
