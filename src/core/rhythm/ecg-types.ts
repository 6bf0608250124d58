import type { Fact, Reason } from '../units/fact.ts';

export type EcgQualityCode =
  | 'ecg-none' | 'ecg-flat' | 'ecg-short' | 'ecg-few-beats' | 'ecg-sampling-slow' | 'ecg-gap' | 'ecg-noisy' | 'ecg-leads-few' | 'ecg-forms-many' | 'ecg-second-form'
  | 'ecg-irregular' | 'ecg-p-not-found' | 'ecg-p-not-constant' | 'ecg-edges-unclear' | 'ecg-spikes' | 'ecg-leads-differ';
export interface EcgQuality extends Reason {
  readonly code: EcgQualityCode;
}
/** What looks like a failure of conduction; suspected by pattern, said by a person. */
export type BlockSuspicionKind = 'two-to-one' | 'dropped-beat' | 'dropped-beat-growing-pr' | 'pause' | 'slow-without-p';
export interface BlockSuspicion extends Reason {
  readonly kind: BlockSuspicionKind;
  readonly count: number;
  /** Where the first one begins, s from the recording's start. */
  readonly firstAtS: number;
}
/** What an ECG record gives without a person. Bundle branch block is not among it. */
export interface EcgReading {
  readonly ratePerMin: Fact;
  readonly prMs: Fact;
  readonly qrsMs: Fact;
  /** All QRS, s from the recording's start. */
  readonly beatsS: readonly number[];
  /** Beats of the form that was measured. */
  readonly measured: number;
  /** Names of the leads that were read. */
  readonly leads: readonly string[];
  readonly suspicions: readonly BlockSuspicion[];
  readonly quality: readonly EcgQuality[];
}
