import { existsSync, statSync } from 'node:fs';
import { basename, dirname, extname, join } from 'node:path';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { parseChannelMap } from '../../formats/waveform/parse-channel-map.ts';
import { listCompanions, parseRecording } from '../../formats/waveform/parse-recording.ts';
import type { NamedBytes, RecordingFailureCode, RecordingOptions } from '../../formats/waveform/waveform-types.ts';
import { readPart, type ReadFailureCode } from '../intake/read-input.ts';

/** All files of a recording together: an hour of 16 channels at 2000 samples a second in CSV; more is no recording of one procedure. */
const MOST_BYTES = 2 ** 30;

export type ReadRecordingFailureCode = RecordingFailureCode | ReadFailureCode | 'not-a-file';

/**
 * A recording from a path. Of a WFDB record the header, a signal file beside it or the path without ending will do; its other
 * files are taken from the same folder and from nowhere else. `channels` is the text of `--channels` (parse-channel-map.ts).
 *
 * Fails     as parseRecording; file-not-readable, file-too-large, not-a-file, channel-choice-invalid
 */
export function readRecording(path: string, channels?: string, annotator?: string): Result<Recording, ReadRecordingFailureCode> {
  const choices = channels === undefined ? null : parseChannelMap(channels);
  if (choices !== null && !choices.ok) return choices;
  const options: RecordingOptions = { choices: choices?.value ?? [], ...(annotator === undefined ? {} : { annotator }) };
  const from = findHeader(path);
  const budget = { left: MOST_BYTES };
  const bytes = readWhole(from, budget);
  if (!bytes.ok) return bytes;
  const companions = readCompanions(from, bytes.value, options, budget);
  if (!companions.ok) return companions;
  return parseRecording(bytes.value, basename(from), companions.value, options);
}

/** `record` and `record.dat` stand for `record.hea` where that is there. */
function findHeader(path: string): string {
  if (/\.hea$/i.test(path)) return path;
  const ending = extname(path);
  const beside = [`${path}.hea`, ...(/^\.(dat|atr|qrs)$/i.test(ending) ? [`${path.slice(0, -ending.length)}.hea`] : [])];
  if (existsSync(path) && ending !== '' && beside.length === 1) return path;
  return beside.find((each) => existsSync(each)) ?? path;
}

function readCompanions(from: string, bytes: Uint8Array, options: RecordingOptions, budget: { left: number }): Result<readonly NamedBytes[], ReadRecordingFailureCode> {
  const found = new Map<string, Uint8Array>();
  const asked = new Set<string>();
  const waiting = [...listCompanions(bytes, basename(from), options)];
  for (let name = waiting.pop(); name !== undefined; name = waiting.pop()) {
    if (asked.has(name)) continue;
    asked.add(name);
    // A file that is not there is for the reader of the format to judge: annotations may be absent, samples may not.
    if (name !== basename(name) || !existsSync(join(dirname(from), name))) continue;
    const read = readWhole(join(dirname(from), name), budget);
    if (!read.ok) return read;
    found.set(name, read.value);
    if (name.endsWith('.hea')) waiting.push(...listCompanions(read.value, name, options));
  }
  return succeed([...found].map(([name, each]) => ({ name, bytes: each })));
}

function readWhole(path: string, budget: { left: number }): Result<Uint8Array, ReadFailureCode | 'not-a-file'> {
  let size: number;
  try {
    const stat = statSync(path);
    if (!stat.isFile()) return fail('not-a-file', 'The path is no file.', 'Give the file of the recording; of a WFDB record the .hea file.');
    size = stat.size;
  } catch (problem) {
    const code = (problem as NodeJS.ErrnoException).code ?? 'unknown';
    return fail('file-not-readable', `The system does not let the file be read (${code}).`, 'Check its path and rights.', { system: code });
  }
  if ((budget.left -= size) < 0) return fail('file-too-large', `The recording has more than ${MOST_BYTES} bytes.`, 'Export the stretch that matters alone.', { bytes: size });
  return readPart(path, 0, size);
}
