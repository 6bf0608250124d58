import type { ChannelKind } from '../../core/haemodynamics/recording-types.ts';
import type { ParseFailureCode } from '../dicom/dicom-types.ts';

/** A file that belongs to a recording: its plain name, no folder, and its bytes. */
export interface NamedBytes {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** What a person says about one channel; it wins over what the file says. */
export interface ChannelChoice {
  /** As the file names it, capitals or not; or its number from 1. */
  readonly channel: string;
  readonly kind: ChannelKind;
  /** The unit that the samples are in, where the file says none or a wrong one; null: the file's. */
  readonly unit: string | null;
}

export interface RecordingOptions {
  readonly choices?: readonly ChannelChoice[];
  /** Ending of the WFDB annotation file whose marks are taken; `atr`, the reference one, when left out. */
  readonly annotator?: string;
}

/** One signal as a format's reader hands it on: in the file's own unit, kind and unit not yet read. */
export interface RawChannel {
  readonly label: string;
  /** More words of the file about where the signal comes from (a coded source); not shown. */
  readonly about: string;
  /** As the file writes it; null: it does not say. */
  readonly unit: string | null;
  readonly samplesPerS: number;
  readonly startS: number;
  /** In `unit`, NaN where missing; owned by the receiver, which may scale it in place. */
  readonly samples: Float32Array;
}

/** Samples of all channels of one recording together; more is refused before memory is taken (256 MB). */
export const MOST_SAMPLES = 64_000_000;
export const MOST_CHANNELS = 256;
export const MOST_MARKS = 1_000_000;

export type ChannelMapFailureCode = 'channel-choice-invalid' | 'channel-unknown';

export type CsvFailureCode =
  | 'csv-empty'
  | 'csv-header-missing'
  | 'csv-separator-unclear'
  | 'csv-rows-differ'
  | 'time-column-missing'
  | 'time-not-a-number'
  | 'time-goes-back'
  | 'time-repeats'
  | 'time-uneven';

export type EdfFailureCode =
  | 'edf-header-broken'
  | 'edf-scale-invalid'
  | 'edf-24-bit';

export type WfdbFailureCode =
  | 'wfdb-header-broken'
  | 'wfdb-format-unsupported'
  | 'wfdb-file-missing'
  | 'wfdb-segments-differ';

export type DicomWaveformFailureCode =
  | ParseFailureCode
  /** A DICOM file, but no waveform in it. */
  | 'no-waveform'
  | 'waveform-header-broken'
  | 'waveform-format-unsupported'
  | 'waveform-data-short';

export type RecordingFailureCode =
  | 'recording-format-unknown'
  | 'recording-empty'
  | 'recording-too-large'
  | 'channels-too-many'
  | 'sampling-rate-invalid'
  | ChannelMapFailureCode
  | CsvFailureCode
  | EdfFailureCode
  | WfdbFailureCode
  | DicomWaveformFailureCode;
