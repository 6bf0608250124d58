/**
 * Limits of scan fitness. They judge whether a picture can be measured, not a patient. Status V: read in the source
 * named; M: common practice, unverified; D: this project's own choice, reasons in docs/methods/scan-fitness.md.
 */
export interface ScanLimit {
  readonly value: number;
  readonly unit: string;
  readonly source: string;
  readonly status: 'V' | 'M' | 'D';
}

const SCCT = 'CT imaging for transcatheter valves, SCCT expert consensus 2019: root slices of 1 mm or less';

export const SCAN_LIMITS = {
  /** Above: doubt. */
  rootSliceMm: { value: 1.0, unit: 'mm', source: SCCT, status: 'V' },
  /** Above: stop. A 2 mm slice blurs a hinge point over 2 mm, the whole limit of agreement of the annulus. */
  rootSliceStopMm: { value: 2.0, unit: 'mm', source: 'own choice', status: 'D' },
  /** Below: stop. Outflow tract to ascending aorta takes about 60 mm along the body. */
  coverageMm: { value: 60, unit: 'mm', source: 'own choice', status: 'D' },
  slices: { value: 10, unit: '1', source: 'own choice', status: 'D' },
  /** In-plane field below this: doubt; below half of it: stop. */
  fieldMm: { value: 120, unit: 'mm', source: 'own choice', status: 'D' },
  phaseLowPercent: { value: 20, unit: '%', source: 'systolic window of the task, common practice', status: 'M' },
  phaseHighPercent: { value: 45, unit: '%', source: 'systolic window of the task, common practice', status: 'M' },
  /** Below: stop, no arterial contrast. */
  contrastNoneHu: { value: 150, unit: "[hnsf'U]", source: 'own choice', status: 'D' },
  contrastLowHu: { value: 200, unit: "[hnsf'U]", source: 'own choice', status: 'D' },
  /** checks CT-57: 250-300 HU is adequate for contour work. */
  contrastAdequateHu: { value: 250, unit: "[hnsf'U]", source: 'checks CT-57', status: 'M' },
  noiseHighHu: { value: 50, unit: "[hnsf'U]", source: 'own choice', status: 'D' },
  /** Blood minus tissue over noise below this: stop. */
  contrastToNoiseStop: { value: 3, unit: '1', source: 'own choice', status: 'D' },
  metalHu: { value: 2500, unit: "[hnsf'U]", source: 'own choice; dense calcium stays below', status: 'D' },
  metalMl: { value: 2, unit: 'mL', source: 'own choice', status: 'D' },
  /** A jump between neighbouring slices, over the whole picture, above this and above so many of its usual changes: doubt. */
  stepMm: { value: 0.3, unit: 'mm', source: 'own choice; a heart that jumps 2 mm in a still chest shows as 0.5 mm', status: 'D' },
  stepSigmas: { value: 8, unit: '1', source: 'own choice; scans without a step reach 4', status: 'D' },
} as const satisfies Readonly<Record<string, ScanLimit>>;
