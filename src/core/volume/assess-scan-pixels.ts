import { SCAN_LIMITS as L } from './assess-scan-limits.ts';
import { makeFinding, sortFindings } from './assess-scan.ts';
import type { CtStatistics } from './ct-statistics.ts';
import type { CtVolume, Finding } from './volume-types.ts';

const REPEAT_CONTRAST = 'Choose the arterial series of the scan, or repeat it with contrast timed to the aorta.';
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
      s.brightestHu === null ? 'no large smooth body brighter than 90 HU was found'
      : s.brightestHu < none ? `the brightest large smooth body has ${s.brightestHu.toFixed(0)} HU`
      : `the brightest large body (${s.brightestHu.toFixed(0)} HU) is uneven or rimmed like bone, metal or bowel`;
    return [makeFinding('contrast-none', 'stop',
      `No large blood pool above ${none} HU: ${seen}. The root cannot be told from its wall.`, REPEAT_CONTRAST)];
  }
  const hu = s.contrastHu.valueHu;
  if (hu < L.contrastLowHu.value) {
    return [makeFinding('contrast-low', 'doubt',
      `Blood has ${hu.toFixed(0)} HU: low or late contrast (${L.contrastAdequateHu.value} HU is adequate, unverified).`, REPEAT_CONTRAST)];
  }
  if (hu < L.contrastAdequateHu.value) {
    return [makeFinding('contrast-modest', 'note',
      `Blood has ${hu.toFixed(0)} HU, below the usual ${L.contrastAdequateHu.value} HU (unverified).`,
      'Look at the ring on the pictures: intervals are wider.')];
  }
  return [];
}

function assessNoise(s: CtStatistics): Finding[] {
  if (!s.noiseHu) return [];
  const noise = s.noiseHu.valueHu;
  const ratio = s.contrastHu && noise > 0 ? (s.contrastHu.valueHu - TISSUE_HU) / noise : Infinity;
  const next = 'Ask for a softer kernel or a reconstruction with less noise.';
  if (ratio < L.contrastToNoiseStop.value) {
    return [makeFinding('noise-high', 'stop', `Noise is ${noise.toFixed(0)} HU: blood stands out by only ${ratio.toFixed(1)} times the noise.`, next)];
  }
  return noise > L.noiseHighHu.value ? [makeFinding('noise-high', 'doubt', `Noise is ${noise.toFixed(0)} HU.`, next)] : [];
}

function assessMetal(s: CtStatistics): Finding[] {
  if (s.metalMl <= L.metalMl.value) return [];
  return [makeFinding('metal-heavy', 'doubt', `${s.metalMl.toFixed(1)} mL lie above ${L.metalHu.value} HU: metal or undiluted contrast in a vein, either with streaks around it.`,
    'Check on the pictures that no streak crosses the root.')];
}

function assessSteps(volume: CtVolume, s: CtStatistics): Finding[] {
  const jumps = s.steps.filter((step) => step.shiftMm > L.stepMm.value && step.sigmas > L.stepSigmas.value);
  const worst = jumps[0];
  if (!worst) return [];
  const atMm = worst.slice * volume.spacingMm[2];
  return [makeFinding('motion-step', 'doubt',
    `The picture jumps by ${worst.shiftMm.toFixed(1)} mm on the whole, and the heart perhaps by more, between slices ${worst.slice + 1} and ${worst.slice + 2} ` +
      `(${atMm.toFixed(0)} mm from the first)${jumps.length > 1 ? `, and at ${jumps.length - 1} more places` : ''}.`,
    'Check that the root does not lie at the step; choose another phase.')];
}
