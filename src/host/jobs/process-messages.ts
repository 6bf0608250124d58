import type { IdentityCheck } from '../../core/case/identity-types.ts';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { Failure } from '../../core/result.ts';
import type { ScanManifest } from './scan-manifest.ts';

/** What a process of its own is asked. It reads and writes files of its work folder and the pixel store, never the database. */
export type ProcessAsk = ImportAsk | PlanAsk | BlockAsk;
export interface ImportAsk {
  readonly kind: 'import';
  readonly dataFolder: string;
  readonly workFolder: string;
  readonly scanId: string;
  /** As they arrived, by the path under which they were handed in. */
  readonly files: readonly { readonly path: string; readonly diskPath: string; readonly bytes: number }[];
  readonly entered: PatientIdentity;
}
export interface PlanAsk {
  readonly kind: 'plan';
  readonly dataFolder: string;
  readonly workFolder: string;
  readonly manifest: ScanManifest;
  readonly seriesUid: string | null;
  readonly landmarks: string | null;
  readonly devices: string | null;
  readonly rules: string | null;
  readonly patient: string | null;
  /** Compared with the CT before it is measured. */
  readonly entered: PatientIdentity;
  /** A person said why the scan belongs to the case although it does not name the same patient. */
  readonly isIdentityAccepted: boolean;
}
export interface BlockAsk {
  readonly kind: 'block';
  readonly dataFolder: string;
  readonly workFolder: string;
  readonly manifest: ScanManifest;
  readonly volumeKey: string;
  /** A ball to cut out; null: all of it, coarser. */
  readonly centreLps: readonly [number, number, number] | null;
}

export interface ImportAnswer {
  readonly kind: 'import';
  readonly manifest: ScanManifest;
  readonly identity: Omit<IdentityCheck, 'acceptedBecause'>;
  readonly bytes: number;
}
export interface PlanProcessAnswer {
  readonly kind: 'plan';
  /** Texts lie in the work folder. */
  readonly planFile: string;
  readonly surveyFile: string | null;
  /** Kept in the pixel store, by name below the plan's folder. */
  readonly files: Readonly<Record<string, string>>;
  readonly block: KeptBlock | null;
}
export interface BlockAnswer {
  readonly kind: 'block';
  readonly block: KeptBlock;
}
/** A block of CT in the pixel store: Int16 little-endian, x fastest. */
export interface KeptBlock {
  readonly sha256: string;
  readonly volumeKey: string;
  readonly dims: readonly [number, number, number];
  /** 3 x 4, row by row, takes voxel indices to LPS mm. */
  readonly lpsFromVoxel: readonly number[];
  readonly paddingHu: number | null;
}
export type ProcessAnswer = ImportAnswer | PlanProcessAnswer | BlockAnswer;

export type ProcessMessage =
  | { readonly type: 'progress'; readonly step: string; readonly ratio: number }
  | { readonly type: 'answer'; readonly answer: ProcessAnswer }
  /** With code `defect`, our own fault: a report file without personal data was written. */
  | { readonly type: 'refused'; readonly failure: Failure<string> };
export type TellProgress = (step: string, ratio: number) => void;
