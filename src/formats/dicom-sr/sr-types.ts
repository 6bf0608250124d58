import type { EchoEntries, EchoFieldCode, EchoNumberCode } from '../../core/echo/echo-fields.ts';
import type { Reason } from '../../core/units/fact.ts';
import type { ParseFailureCode } from '../dicom/dicom-types.ts';

/** A coded concept. `scheme` is normalised: SNOMED by number is SCT, the older letter codes of the same concepts too where known. */
export interface SrCode {
  readonly value: string;
  readonly scheme: string;
  /** Of the public schemes only; a private meaning is free text. */
  readonly meaning: string | null;
}
/** One content item that matters here. Text, names, dates and references are not kept. */
export interface SrNode {
  readonly kind: 'container' | 'number' | 'code' | 'other';
  readonly relation: string;
  readonly concept: SrCode | null;
  /** Of `number`. null: the file gives none. */
  readonly value: number | null;
  readonly unit: SrCode | null;
  /** Of `code`. */
  readonly code: SrCode | null;
  readonly children: readonly SrNode[];
}

/** How one value was found among those of a field. */
export type ReportChoice = 'the only one' | 'chosen in the report' | 'mean in the report' | 'median of several';
export interface ReportValue {
  readonly field: EchoNumberCode;
  /** In the unit of the field. */
  readonly value: number;
  /** As in the report. */
  readonly stated: { readonly value: number; readonly unit: string };
  readonly concept: SrCode;
  readonly choice: ReportChoice;
  /** Values of this field in the report, and the smallest and largest of them, in the unit of the field. */
  readonly count: number;
  readonly low: number;
  readonly high: number;
}
export type UnreadWhy =
  | 'not-of-the-form'
  | 'site-unknown'
  | 'method-unknown'
  | 'derived-otherwise'
  | 'unit-missing'
  | 'unit-contradicts'
  | 'value-missing'
  | 'out-of-bounds';
/** A measurement that is in the report and was not taken: by its code, never dropped in silence. */
export interface UnreadItem {
  readonly concept: SrCode | null;
  readonly site: SrCode | null;
  readonly value: number | null;
  readonly unit: string | null;
  readonly why: UnreadWhy;
  /** The field that it would have filled. */
  readonly field: EchoFieldCode | null;
}
export interface EchoReport {
  readonly format: 'trinadir.echo-report/1';
  readonly sopClassUid: string | null;
  readonly sopInstanceUid: string | null;
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly title: SrCode | null;
  /** Of the root, such as 5200 or 5300. */
  readonly template: string | null;
  readonly isComplete: boolean | null;
  readonly isVerified: boolean | null;
  /** For measureEcho. */
  readonly entries: EchoEntries;
  /** For EchoContext.halfWidths: where the values of the report lie further apart than one reading may be off. */
  readonly halfWidths: Readonly<Partial<Record<EchoNumberCode, number>>>;
  readonly values: readonly ReportValue[];
  readonly unread: readonly UnreadItem[];
  /** Unread items beyond the list. */
  readonly unreadMore: number;
  readonly findings: readonly Reason[];
}
export type EchoReportFailureCode =
  | ParseFailureCode
  /** Another kind of DICOM object. */
  | 'not-a-report'
  | 'report-empty'
  /** Nested or long beyond the bounds set for one report. */
  | 'report-too-large';
