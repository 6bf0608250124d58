import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import { measurePressure } from '../../core/haemodynamics/measure-pressure.ts';
import type { PressureAnswer, PressureInputs } from '../../core/haemodynamics/pressure-types.ts';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import type { TraceAnswer } from '../../formats/api/result-schemas.ts';
import { readHandedRecording } from '../recordings/read-handed-recording.ts';

export interface ReadPressureAsk {
  /** Of the file as it came, on this machine. */
  readonly path: string;
  readonly channels: string | null;
  readonly inputs: PressureInputs;
  readonly stamp: FactStamp;
}
export interface ReadPressureAnswer {
  readonly format: Recording['format'];
  readonly durationS: number;
  readonly identity: PatientIdentity;
  readonly answer: PressureAnswer | null;
  readonly refusal: { readonly code: string; readonly text: string; readonly next: string } | null;
}

/** Two hours at 80 a minute. Each beat is some 3 kB of facts in a document of the case, which is stored and sent whole. */
const MOST_BEATS = 10_000;

/**
 * Reads and measures a recording of pressures; runs in a thread.
 * Fails     recording-long, and as readHandedRecording. A recording without a pressure is an answer with its refusal.
 */
export function readPressure({ path, channels, inputs, stamp }: ReadPressureAsk): Result<ReadPressureAnswer, string> {
  const read = readHandedRecording(path, channels);
  if (!read.ok) return read;
  const { recording, identity } = read.value;
  const measured = measurePressure(recording, inputs, stamp);
  if (measured.ok && measured.value.beats.length > MOST_BEATS) return fail('recording-long', formatText(RECORDINGS_EN, 'long', { beats: measured.value.beats.length, most: MOST_BEATS }), RECORDINGS_EN.longNext, { beats: measured.value.beats.length });
  return succeed({
    format: recording.format, durationS: recording.durationS, identity, answer: measured.ok ? measured.value : null,
    refusal: measured.ok ? null : { code: measured.failure.code, text: measured.failure.message, next: measured.failure.nextStep },
  });
}

export interface TraceAsk {
  readonly path: string;
  readonly channels: string | null;
  readonly fromS: number;
  readonly toS: number | null;
  readonly columns: number;
}

/**
 * Curves for a picture: per column the least and the most of its samples, so that no beat's peak is lost.
 * Fails     trace-range, and as readHandedRecording
 */
export function traceRecording(ask: TraceAsk): Result<TraceAnswer, string> {
  const read = readHandedRecording(ask.path, ask.channels);
  if (!read.ok) return read;
  const { recording } = read.value;
  const fromS = ask.fromS;
  const toS = Math.min(ask.toS ?? recording.durationS, recording.durationS);
  if (!(toS > fromS)) return fail('trace-range', RECORDINGS_EN.traceRange, RECORDINGS_EN.traceRangeNext, { durationS: recording.durationS });
  return succeed({
    fromS, toS, durationS: recording.durationS,
    channels: recording.channels.map((c) => ({ kind: c.kind, unit: c.unit, ...findLevels(c, fromS, toS, ask.columns) })),
  });
}

function findLevels({ samples, samplesPerS, startS }: Recording['channels'][number], fromS: number, toS: number, columns: number): { readonly lows: (number | null)[]; readonly highs: (number | null)[] } {
  const [lows, highs]: [(number | null)[], (number | null)[]] = [new Array(columns).fill(null), new Array(columns).fill(null)];
  const first = Math.max(0, Math.ceil((fromS - startS) * samplesPerS));
  const last = Math.min(samples.length - 1, Math.floor((toS - startS) * samplesPerS));
  const perSample = columns / ((toS - fromS) * samplesPerS);
  const offset = (startS - fromS) * samplesPerS * perSample;
  for (let i = first; i <= last; i++) {
    const value = samples[i]!;
    if (!Number.isFinite(value)) continue;
    const column = Math.min(columns - 1, Math.max(0, Math.floor(i * perSample + offset)));
    if (lows[column] === null || value < lows[column]!) lows[column] = value;
    if (highs[column] === null || value > highs[column]!) highs[column] = value;
  }
  return { lows, highs };
}
