import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, type Result } from '../../core/result.ts';
import { parseCsvRecording } from './parse-csv-recording.ts';
import { looksLikeDicom, parseDicomRecording } from './parse-dicom-recording.ts';
import { looksLikeEdf } from './parse-edf-header.ts';
import { parseEdfRecording } from './parse-edf-recording.ts';
import { looksLikeWfdbHeader } from './parse-wfdb-header.ts';
import { listWfdbCompanions, parseWfdbRecording } from './parse-wfdb-recording.ts';
import type { NamedBytes, RecordingFailureCode, RecordingOptions } from './waveform-types.ts';

const HEAD_BYTES = 4096;

/**
 * A recording of pressures, ECG or both, whatever its format: the content decides; of the name only `.hea` counts.
 *
 * Shape     `name` is the plain name of the file; `companions` are the other files of the recording (listCompanions)
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
  switch (findFormat(bytes, name)) {
    case 'empty': return fail('recording-empty', 'The file is empty.', 'Export the recording again.');
    case 'dicom': return parseDicomRecording(bytes, options);
    case 'edf': return parseEdfRecording(bytes, options);
    case 'wfdb': return parseWfdbRecording(bytes, companions, options);
    case 'csv': return parseCsvRecording(bytes, options);
    case 'unknown':
      return fail('recording-format-unknown', 'The file is no recording that is read here.',
        'Give a DICOM waveform, EDF or EDF+, the .hea file of a WFDB record beside its signal files, or CSV with a header and a time column.', { bytes: bytes.length });
  }
}

/** Plain names of the files that belong to this one; ask again with each header that was found (segments name theirs). */
export function listCompanions(bytes: Uint8Array, name: string, options: RecordingOptions = {}): readonly string[] {
  return findFormat(bytes, name) === 'wfdb' ? listWfdbCompanions(bytes, options.annotator) : [];
}

function findFormat(bytes: Uint8Array, name: string): 'empty' | 'dicom' | 'edf' | 'wfdb' | 'csv' | 'unknown' {
  if (bytes.length === 0) return 'empty';
  if (looksLikeDicom(bytes)) return 'dicom';
  if (looksLikeEdf(bytes)) return 'edf';
  if (name.toLowerCase().endsWith('.hea')) return 'wfdb';
  const isWide = (bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff);
  const head = bytes.subarray(0, HEAD_BYTES);
  if (isWide) return 'csv';
  // Letters, digits and line ends as text has them, and nothing else.
  if (!head.every((byte) => byte >= 32 || byte === 9 || byte === 10 || byte === 13)) return looksLikeBareDicom(bytes) ? 'dicom' : 'unknown';
  return looksLikeWfdbHeader(new TextDecoder('latin1').decode(head)) ? 'wfdb' : 'csv';
}

/** A data set without preamble begins with group 0008 or 0002. */
function looksLikeBareDicom(bytes: Uint8Array): boolean {
  return (bytes[0] === 8 || bytes[0] === 2) && bytes[1] === 0;
}
