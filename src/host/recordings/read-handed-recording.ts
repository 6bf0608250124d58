import { statSync } from 'node:fs';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import { parseChannelMap } from '../../formats/waveform/parse-channel-map.ts';
import { readRecordingIdentity } from '../../formats/waveform/parse-dicom-recording.ts';
import { listCompanions, parseRecording } from '../../formats/waveform/parse-recording.ts';
import type { ChannelChoice, NamedBytes, RecordingFailureCode } from '../../formats/waveform/waveform-types.ts';
import { listZipEntries, readZipEntry } from '../../formats/zip/read-zip.ts';
import { sourceOfBytes, type ByteSource, type ZipFailureCode } from '../../formats/zip/zip-types.ts';
import { readPart, type ReadFailureCode } from '../intake/read-input.ts';

export type HandedRecordingFailureCode = RecordingFailureCode | ReadFailureCode | ZipFailureCode | 'recording-gone' | 'recording-zip-record' | 'recording-zip-size';
export interface HandedRecording {
  readonly recording: Recording;
  /** Whom the file says it is of; all null where its format does not say so in a way that can be compared. Never kept. */
  readonly identity: PatientIdentity;
}
export const NOBODY: PatientIdentity = { name: null, birthDate: null, sex: null, patientId: null };

/** Unpacked parts of a record together: four hours of sixteen channels, 16 bit, 500 samples a second. */
const MOST_UNPACKED_BYTES = 2 ** 29;
const MOST_PARTS = 2000;
const ZIP_MAGIC = [0x50, 0x4b, 3, 4];

/**
 * A recording that was handed in as one file and lies under a name of its own: a DICOM waveform, EDF, CSV, or a ZIP with
 * the parts of one WFDB record. The content decides.
 *
 * Fails     recording-gone, recording-zip-record (no header, or several records), recording-zip-size, and as parseRecording and
 *           the reader of ZIPs
 */
export function readHandedRecording(path: string, channels: string | null): Result<HandedRecording, HandedRecordingFailureCode> {
  const choices = channels === null ? null : parseChannelMap(channels);
  if (choices !== null && !choices.ok) return choices;
  const options = { choices: choices?.value ?? [] };
  let size: number;
  try {
    size = statSync(path).size;
  } catch {
    return fail('recording-gone', RECORDINGS_EN.gone, RECORDINGS_EN.goneNext);
  }
  const bytes = readPart(path, 0, size);
  if (!bytes.ok) return bytes;
  if (ZIP_MAGIC.every((byte, i) => bytes.value[i] === byte)) return readZippedRecord(bytes.value, options);
  const recording = parseRecording(bytes.value, 'recording', [], options);
  return recording.ok ? succeed({ recording: recording.value, identity: readRecordingIdentity(bytes.value) ?? NOBODY }) : recording;
}

function readZippedRecord(bytes: Uint8Array, options: { readonly choices: readonly ChannelChoice[] }): Result<HandedRecording, HandedRecordingFailureCode> {
  const parts = unpackParts(sourceOfBytes(bytes));
  if (!parts.ok) return parts;
  const headers = parts.value.filter(({ name }) => /\.hea$/i.test(name));
  const segments = new Set(headers.flatMap((h) => listCompanions(h.bytes, h.name).filter((other) => other !== h.name)));
  const tops = headers.filter(({ name }) => !segments.has(name));
  const [top] = tops;
  if (tops.length !== 1 || !top) return fail('recording-zip-record', formatText(RECORDINGS_EN, 'zipRecord', { count: tops.length }), RECORDINGS_EN.zipRecordNext, { records: tops.length });
  const recording = parseRecording(top.bytes, top.name, parts.value.filter((p) => p !== top), options);
  return recording.ok ? succeed({ recording: recording.value, identity: NOBODY }) : recording;
}

/** All files of the archive by their plain names; a record may lie in a folder, but not in two. */
function unpackParts(source: ByteSource): Result<readonly NamedBytes[], HandedRecordingFailureCode> {
  const listing = listZipEntries(source);
  if (!listing.ok) return listing;
  const files = listing.value.entries.filter((e) => !e.path.endsWith('/') && !/(^|\/)(__MACOSX\/|\.)/.test(e.path));
  const bytes = files.reduce((sum, e) => sum + e.bytes, 0);
  if (bytes > MOST_UNPACKED_BYTES || files.length > MOST_PARTS) return fail('recording-zip-size', formatText(RECORDINGS_EN, 'zipSize', { bytes: MOST_UNPACKED_BYTES }), RECORDINGS_EN.zipSizeNext, { bytes, files: files.length });
  const names = files.map((e) => e.path.split('/').at(-1)!);
  if (new Set(names).size !== names.length) return fail('recording-zip-record', formatText(RECORDINGS_EN, 'zipRecord', { count: 2 }), RECORDINGS_EN.zipRecordNext, { records: 2 });
  const parts: NamedBytes[] = [];
  for (const [i, entry] of files.entries()) {
    const read = readZipEntry(source, entry);
    if (!read.ok) return read;
    parts.push({ name: names[i]!, bytes: read.value });
  }
  return succeed(parts);
}
