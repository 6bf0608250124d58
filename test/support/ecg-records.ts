import { readFileSync } from 'node:fs';
import type { Recording } from '../../src/core/haemodynamics/recording-types.ts';
import { parseWfdbRecording } from '../../src/formats/waveform/parse-wfdb-recording.ts';

const FOLDER = new URL('../../../shared/data/ecg-conduction/', import.meta.url);
const read = (name: string): Uint8Array => readFileSync(new URL(name, FOLDER));
const BEAT = /^[NLRBAaJSVrFejnEf/Q?]$/;

/** A two-lead ECG of half an hour with its reference beats in s (none for 231); null where the data folder is absent. */
export function readEcgRecord(name: '100' | '104' | '108' | '231'): { readonly recording: Recording; readonly beatsS: readonly number[] } | null {
  let header: Uint8Array;
  try {
    header = read(`${name}.hea`);
  } catch {
    return null;
  }
  const companions = [`${name}.dat`, ...(name === '100' ? ['100.atr'] : [])].map((each) => ({ name: each, bytes: read(each) }));
  const parsed = parseWfdbRecording(header, companions, {});
  if (!parsed.ok) throw new Error(parsed.failure.message);
  const recording = parsed.value;
  if (name === '100') return { recording, beatsS: recording.marks.filter((m) => BEAT.test(m.code)).map((m) => m.atS) };
  if (name === '231') return { recording, beatsS: [] };
  const rows = new TextDecoder('latin1').decode(read(`${name}_reference_beats.csv`)).trim().split('\n').slice(1);
  return { recording, beatsS: rows.map((row) => Number(row.split(',')[1]) / 360) };
}

/** One found beat to one reference beat within 150 ms; F1 is the harmonic mean of sensitivity and positive predictivity. */
export function scoreBeats(foundS: readonly number[], referenceS: readonly number[]): { readonly f1: number; readonly missed: number; readonly extra: number } {
  let [i, j, hits] = [0, 0, 0];
  while (i < foundS.length && j < referenceS.length) {
    const apart = foundS[i]! - referenceS[j]!;
    if (Math.abs(apart) <= 0.15) {
      hits++;
      i++;
      j++;
    } else if (apart < 0) i++;
    else j++;
  }
  const [missed, extra] = [referenceS.length - hits, foundS.length - hits];
  return { f1: (2 * hits) / (2 * hits + missed + extra), missed, extra };
}
