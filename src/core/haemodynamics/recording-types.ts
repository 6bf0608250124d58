import type { Reason } from '../units/fact.ts';

/** What a channel shows. `other` is kept and not read. */
export type ChannelKind = 'aortic' | 'ventricular' | 'pulmonary' | 'ecg' | 'other';

/** One signal of a recording. */
export interface Channel {
  /** As the file names it; never a person's. */
  readonly label: string;
  readonly kind: ChannelKind;
  /** UCUM: pressures in `mm[Hg]`, ECG in `mV`; what could not be read as one of the two keeps its own unit and kind `other`. */
  readonly unit: string;
  readonly samplesPerS: number;
  /** Of the first sample, s from the recording's start; channels may be skewed against one another. */
  readonly startS: number;
  /** In `unit`; NaN where the file has a gap. */
  readonly samples: Float32Array;
}
/** A mark in a recording that its file brings: a beat, an event. */
export interface RecordingMark {
  readonly atS: number;
  readonly code: string;
}
/** A recording of pressures, ECG or both, as every reader gives it. */
export interface Recording {
  readonly format: 'dicom' | 'edf' | 'wfdb' | 'csv';
  /** Of the first sample, ISO 8601; null: the file does not say. */
  readonly startedAt: string | null;
  readonly durationS: number;
  readonly channels: readonly Channel[];
  readonly marks: readonly RecordingMark[];
  /** What was doubtful in the file: units assumed, gaps, a channel left out. */
  readonly findings: readonly Reason[];
}
