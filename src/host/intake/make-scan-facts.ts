import type { ScanFacts } from '../../core/root/root-types.ts';
import { makeFact, refuseFact, type Fact, type FactStamp } from '../../core/units/fact.ts';
import type { SpreadHu } from '../../core/volume/ct-statistics.ts';
import type { LoadedVolume } from './scan-types.ts';

const HU = "[hnsf'U]" as const;

/** `scan` of plan.json, from a loaded volume. */
export function makeScanFacts(loaded: LoadedVolume, stamp: FactStamp): ScanFacts {
  const { volume, header, statistics, findings, verdict } = loaded;
  const [columns, rows, slices] = volume.dims;
  return {
    studyUid: header.studyUid, seriesUid: header.seriesUid, frameOfReferenceUid: header.frameOfReferenceUid,
    rows, columns, slices,
    spacingMm: [roundMm(volume.spacingMm[0]), roundMm(volume.spacingMm[1]), roundMm(volume.spacingMm[2])],
    phasePercent: header.phasePercent,
    contrastHu: makeHuFact(statistics.contrastHu, 'scan.bloodPool/1', stamp, {
      code: 'contrast-none', text: 'No large bright blood pool was found.', next: 'Choose the arterial series of the scan.',
    }),
    noiseHu: makeHuFact(statistics.noiseHu, 'scan.noise/1', stamp, {
      code: 'noise-not-measurable', text: 'No smooth place to measure noise in was found.', next: 'Look at the pictures.',
    }),
    verdict, findings,
  };
}

function makeHuFact(spread: SpreadHu | null, method: string, stamp: FactStamp, none: { code: string; text: string; next: string }): Fact {
  if (!spread) return refuseFact(HU, method, stamp, none);
  return makeFact(round1(spread.valueHu), round1(spread.lowHu), round1(spread.highHu), HU, method, ['scan.pixels'], stamp);
}

/** Spacing from a line fit carries 1e-16 noise that no reader needs. */
function roundMm(mm: number): number {
  return Math.round(mm * 1e6) / 1e6;
}
function round1(hu: number): number {
  return Math.round(hu * 10) / 10;
}
