import type { LpsPoint, LpsVector } from '../units/frames.ts';

/**
 * What grouping needs to know of one slice (or one frame of a multi-frame file). The header that the DICOM reader
 * returns has these fields and more, so it is handed in as it is. null = the file does not say.
 */
export interface SliceRecord {
  readonly sopClassUid: string | null;
  readonly sopInstanceUid: string | null;
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly frameOfReferenceUid: string | null;
  readonly modality: string | null;
  readonly imageType: readonly string[];
  /** For comparison only: never printed, logged or stored. */
  readonly patientKey: string | null;
  readonly patientPosition: string | null;
  readonly frameIndex: number;
  readonly rows: number;
  readonly columns: number;
  readonly pixelSpacingMm: readonly [rowMm: number, columnMm: number] | null;
  readonly sliceThicknessMm: number | null;
  readonly positionLps: LpsPoint | null;
  readonly rowDirLps: LpsVector | null;
  readonly columnDirLps: LpsVector | null;
  readonly phasePercent: number | null;
  readonly triggerTimeMs: number | null;
  readonly temporalPositionIndex: number | null;
  readonly acquisitionNumber: number | null;
  readonly acquisitionTime: string | null;
  readonly instanceNumber: number | null;
  readonly seriesNumber: number | null;
  readonly seriesDescription: string | null;
  readonly kernel: string | null;
}

/** `volume` may be measured; a localiser, a capture or an unplaced picture is listed and left alone. */
export type SliceGroupRole = 'volume' | 'localiser' | 'capture' | 'unplaced' | 'other-modality';

/** Slices of one series that can lie in one grid, in order along the slice normal. */
export interface SliceGroup {
  readonly role: SliceGroupRole;
  /** Indices into the records handed in; along the normal for a volume, by instance otherwise. */
  readonly members: readonly number[];
  /** Slices left out because another one lies at the same place and nothing tells them apart. */
  readonly duplicates: readonly number[];
  /** What told this group from its neighbours in the series: 'phase', 'orientation', ... */
  readonly splitBy: readonly string[];
  readonly phasePercent: number | null;
}

export interface SliceSeries {
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly seriesNumber: number | null;
  readonly modality: string | null;
  readonly description: string | null;
  /** More than one frame of reference in one series: its groups must not be laid over each other. */
  readonly framesOfReference: number;
  /** Nearly every slice names its own: not used for splitting. */
  readonly isFrameIgnored: boolean;
  readonly groups: readonly SliceGroup[];
}

export interface SliceGrouping {
  readonly series: readonly SliceSeries[];
  /** Distinct patients among the records that name one. */
  readonly patients: number;
}
