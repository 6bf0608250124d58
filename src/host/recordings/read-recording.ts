import { statSync } from 'node:fs';
import { basename } from 'node:path';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, type Result } from '../../core/result.ts';
import { parseChannelMap } from '../../formats/waveform/parse-channel-map.ts';
import { parseRecording } from '../../formats/waveform/parse-recording.ts';
import type { RecordingFailureCode } from '../../formats/waveform/waveform-types.ts';
import { readPart, type ReadFailureCode } from '../intake/read-input.ts';

/** An hour of 16 channels at 2000 samples a second in CSV; more is no recording of one procedure. */
const MOST_BYTES = 2 ** 30;

export type ReadRecordingFailureCode = RecordingFailureCode | ReadFailureCode | 'not-a-file';

/**
 * A recording from a path. `channels` is the text of `--channels` (parse-channel-map.ts).
 * Fails     as parseRecording; file-not-readable, file-too-large, not-a-file, channel-choice-invalid
 */
export function readRecording(path: string, channels?: string): Result<Recording, ReadRecordingFailureCode> {
  const choices = channels === undefined ? null : parseChannelMap(channels);
  if (choices !== null && !choices.ok) return choices;
  const bytes = readWhole(path);
  if (!bytes.ok) return bytes;
  return parseRecording(bytes.value, basename(path), [], { choices: choices?.value ?? [] });
}

function readWhole(path: string): Result<Uint8Array, ReadFailureCode | 'not-a-file'> {
  let size: number;
  try {
    const stat = statSync(path);
    if (!stat.isFile()) return fail('not-a-file', 'The path is no file.', 'Give the file of the recording; of a WFDB record the .hea file.');
    size = stat.size;
  } catch (problem) {
    const code = (problem as NodeJS.ErrnoException).code ?? 'unknown';
    return fail('file-not-readable', `The system does not let the file be read (${code}).`, 'Check its path and rights.', { system: code });
  }
  if (size > MOST_BYTES) return fail('file-too-large', `The file has ${size} bytes; ${MOST_BYTES} are the most.`, 'Export the stretch that matters alone.', { bytes: size });
  return readPart(path, 0, size);
}
