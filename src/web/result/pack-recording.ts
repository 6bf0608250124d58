import { zipSync } from 'fflate';

/** A file of a recording: only its ending and bytes leave this machine, of a WFDB record its parts by their names. */
export interface RecordingPart {
  readonly name: string;
  readonly bytes: Uint8Array<ArrayBuffer>;
}
export interface PackedRecording {
  readonly bytes: Uint8Array<ArrayBuffer>;
  /** How the name ends, without the dot: a whole name might name the patient. */
  readonly ending: string;
}

/** The ending as the server takes it; "bin" where a name has none that is plain. */
export function readEnding(name: string): string {
  const found = /\.([a-z0-9]{1,8})$/i.exec(name);
  return found ? found[1]!.toLowerCase() : 'bin';
}

/**
 * One body from chosen files: a single file as it is; several, or a WFDB header with its signals, as a ZIP without compression.
 * The header of a WFDB record names its signal files, so parts keep their names.
 * Null for no file at all.
 */
export function packRecording(parts: readonly RecordingPart[]): PackedRecording | null {
  const [only] = parts;
  if (!only) return null;
  if (parts.length === 1 && readEnding(only.name) !== 'hea') return { bytes: only.bytes, ending: readEnding(only.name) };
  const bytes = zipSync(Object.fromEntries(parts.map((p) => [p.name, [p.bytes, { level: 0, mtime: '1980-01-01' }] as const])) as never);
  return { bytes: bytes as Uint8Array<ArrayBuffer>, ending: 'zip' };
}
