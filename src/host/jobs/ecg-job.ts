import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { EcgReading } from '../../core/rhythm/ecg-types.ts';
import { measureEcg } from '../../core/rhythm/measure-ecg.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { readHandedRecording } from '../recordings/read-handed-recording.ts';

export interface ReadEcgAsk {
  /** Of the file as it came, on this machine. */
  readonly path: string;
  readonly channels: string | null;
  readonly stamp: FactStamp;
}
export interface ReadEcgAnswer {
  readonly identity: PatientIdentity;
  readonly reading: EcgReading;
}

/**
 * Reads and measures an ECG record; runs in a thread. A record whose intervals cannot be read is an answer with its reasons.
 * Fails     ecg-none (no channel is an ECG), and as readHandedRecording
 */
export function readEcg({ path, channels, stamp }: ReadEcgAsk): Result<ReadEcgAnswer, string> {
  const read = readHandedRecording(path, channels);
  if (!read.ok) return read;
  const reading = measureEcg(read.value.recording, stamp);
  const none = reading.quality.find((q) => q.code === 'ecg-none');
  return none ? fail('ecg-none', none.text, none.next) : succeed({ identity: read.value.identity, reading });
}
