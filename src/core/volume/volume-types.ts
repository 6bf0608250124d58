import type { Affine } from '../units/frames.ts';

/**
 * CT samples in Hounsfield units with the affine to the patient.
 * Shape   samplesHu[(k * ny + j) * nx + i], dims = [nx, ny, nz]; i along a row (columns), j down, k slices
 * Frame   lpsFromVoxel takes voxel-centre indices (i, j, k) to LPS mm. It may be oblique, left-handed or
 *         sheared (tilted gantry): always sample through its inverse, never through spacing alone.
 * Memory  the buffer may be a SharedArrayBuffer, so that workers read it without a copy.
 */
export interface CtVolume {
  readonly samplesHu: Int16Array;
  readonly dims: readonly [nx: number, ny: number, nz: number];
  readonly lpsFromVoxel: Affine<'lps', 'voxel'>;
  /** Lengths of the three columns of lpsFromVoxel; for a sheared grid the third is along the sheared edge. */
  readonly spacingMm: readonly [number, number, number];
  /** Value written where the scanner had no data (outside the field of view); null when none is declared. */
  readonly paddingHu: number | null;
}

/** How much a finding hinders measuring: a note, a doubt carried into every number, or a stop. */
export type FindingSeverity = 'note' | 'doubt' | 'stop';
export interface Finding {
  readonly code: string;
  readonly severity: FindingSeverity;
  readonly text: string;
  readonly next: string;
}

/** What the header says of the chosen volume, beyond its grid; null = the file does not say. No identity. */
export interface ScanHeader {
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly frameOfReferenceUid: string | null;
  readonly modality: string | null;
  /** HFS, FFS, HFP, ... (0018,5100). */
  readonly patientPosition: string | null;
  readonly sliceThicknessMm: number | null;
  readonly kernel: string | null;
  readonly phasePercent: number | null;
  readonly kvp: number | null;
  readonly patientSex: 'F' | 'M' | 'O' | null;
  readonly isContrastDeclared: boolean | null;
  readonly seriesDescription: string | null;
}
