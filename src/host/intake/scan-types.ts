import type { ScanVerdict } from '../../core/volume/assess-scan.ts';
import type { RankedVolume } from '../../core/volume/assess-scan-proposal.ts';
import type { SliceGroupRole } from '../../core/volume/group-slices-types.ts';
import type { CtVolume, Finding, ScanHeader } from '../../core/volume/volume-types.ts';
import type { CtStatistics } from '../../core/volume/ct-statistics.ts';
import type { PlanInputs } from '../../core/case/plan-types.ts';
import type { CtSliceHeader } from '../../formats/dicom/dicom-types.ts';
import type { ResearchFailureCode } from '../../formats/nifti/research-volume.ts';
import type { InputFile, InputListing, ListFailureCode, UnreadableFile } from './intake-types.ts';
import type { ReadFailureCode } from './read-input.ts';

/** One slice of a volume: the file it lies in and what its header says. */
export interface SliceSource {
  readonly input: InputFile;
  readonly header: CtSliceHeader;
}

export type VolumeSource =
  /** All slices along the normal, also those a broken stack leaves out. */
  | {
      readonly kind: 'dicom';
      readonly slices: readonly SliceSource[];
      readonly duplicates: number;
      readonly framesOfReference: number;
      readonly isFrameIgnored: boolean;
    }
  | { readonly kind: 'research'; readonly input: InputFile; readonly format: 'nifti' | 'nrrd' };

/** One volume that could be measured, or the reasons why not. */
export interface ScanVolume {
  /** Series UID and a number: '1.2.3#1'. Stable for the same files. */
  readonly key: string;
  readonly seriesUid: string | null;
  readonly header: ScanHeader;
  /** What told this volume from others of its series: 'phase', 'acquisition', ... */
  readonly splitBy: readonly string[];
  readonly dims: readonly [number, number, number];
  readonly spacingMm: readonly [number, number, number];
  readonly stepMm: number;
  readonly coverageMm: number;
  /** From five sample slices when there was a choice to make; null when not looked at or nothing bright was seen. */
  readonly sampledContrastHu: number | null;
  readonly sampledNoiseHu: number | null;
  readonly findings: readonly Finding[];
  readonly verdict: ScanVerdict;
  readonly source: VolumeSource;
}

/** A series as found: what each part of it is. */
export interface ScanSeries {
  readonly seriesUid: string | null;
  readonly seriesNumber: number | null;
  readonly modality: string;
  readonly description: string | null;
  readonly files: number;
  readonly frames: number;
  readonly parts: readonly { readonly role: SliceGroupRole; readonly frames: number; readonly volumeKey: string | null }[];
}

export interface ScanReport {
  readonly input: {
    readonly kind: InputListing['kind'];
    readonly files: number;
    readonly bytes: number;
    /** Files that are no pictures. */
    readonly otherFiles: number;
  };
  readonly series: readonly ScanSeries[];
  readonly volumes: readonly ScanVolume[];
  /** Best first, with reasons in words. */
  readonly ranking: readonly RankedVolume[];
  /** Key of the volume to measure; null when none can be measured. */
  readonly proposed: string | null;
  readonly unreadable: readonly UnreadableFile[];
  /** Of the proposed volume, from headers (and sample slices); pixels are judged by loadVolume. */
  readonly verdict: ScanVerdict;
}

export type ScanFailureCode = ListFailureCode | 'no-files' | 'no-ct' | 'two-patients';

export interface LoadedVolume {
  readonly volume: CtVolume;
  readonly header: ScanHeader;
  /** Header and pixel findings, worst first. */
  readonly findings: readonly Finding[];
  readonly verdict: ScanVerdict;
  readonly statistics: CtStatistics;
  readonly inputs: PlanInputs;
  readonly key: string;
}
export type LoadFailureCode =
  | 'volume-unknown' | 'one-slice' | 'slice-without-position' | 'spacing-uneven' | 'volume-too-large'
  | 'pixels-unreadable' | 'file-broken';

/** What five sample slices showed; `contrastHu` null: read, and no bright blood seen. */
export interface VolumeSample {
  readonly contrastHu: number | null;
  readonly noiseHu: number | null;
}

export interface DescribedResearch {
  readonly series: ScanSeries;
  /** null when the file is not a volume that could be CT; `code` says why. */
  readonly volume: ScanVolume | null;
  readonly code: ResearchFailureCode | ReadFailureCode | 'not-hounsfield' | null;
}

/** What a pass over the heads of all inputs found. */
export interface FoundHeads {
  readonly listing: InputListing;
  readonly slices: readonly SliceSource[];
  readonly research: readonly DescribedResearch[];
  readonly otherObjects: readonly { readonly modality: string; readonly seriesUid: string | null }[];
  readonly otherFiles: number;
  readonly unreadable: readonly UnreadableFile[];
}
