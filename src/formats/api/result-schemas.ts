import { z } from 'zod';
import type { LiveBeat } from '../../core/haemodynamics/live-pressure.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import type { RhythmCase } from '../../core/rhythm-case/assemble-rhythm.ts';
import type { NextEcg, RhythmAnswer, RhythmContext } from '../../core/rhythm/rhythm-types.ts';
import type { RhythmWatch } from '../../core/rhythm/watch-rhythm.ts';
import type { Reason } from '../../core/units/fact.ts';
import type { VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import { ECG_MOMENT, ID, INSTANT, SHA256, shortText, WITNESS_NOTE } from './case-schemas.ts';

/** Shapes of result and rhythm that cross HTTP; strict. Documents of the core are the contract's and not repeated here. */
export const MOST_RECORDING_BYTES = 300 * 1024 ** 2;
export const MOST_LIVE_BYTES = 256 * 1024;

/** How the file's name ends, without the dot: a whole name might name the patient. */
const ENDING = z.string().regex(/^[a-z0-9]{1,8}$/);
const CHANNELS = shortText(2000).optional();
export const RECORDING_ASK = z.strictObject({ moment: z.enum(['baseline', 'after']), takenAt: INSTANT, ending: ENDING, channels: CHANNELS });
export const ECG_ASK = z.strictObject({ moment: ECG_MOMENT, takenAt: INSTANT, ending: ENDING, channels: CHANNELS });
const REFUSAL = z.strictObject({ code: z.string(), text: z.string(), next: z.string() });
export const RECORDING = z.strictObject({ recordingId: ID, answerSha256: SHA256.nullable(), answer: z.custom<PressureAnswer>().nullable(), refusal: REFUSAL.nullable() });
export type RecordingAnswer = z.infer<typeof RECORDING>;
/** Curves for a picture: per column of it the least and the most of its samples; null where there are none. */
export const TRACE_ASK = z.strictObject({ fromS: z.coerce.number().min(0).default(0), toS: z.coerce.number().min(0).optional(), columns: z.coerce.number().int().min(10).max(4000).default(1000) });
const levels = z.array(z.number().nullable());
export const TRACE = z.strictObject({
  fromS: z.number(), toS: z.number(), durationS: z.number(),
  channels: z.array(z.strictObject({ kind: z.enum(['aortic', 'ventricular', 'pulmonary', 'ecg', 'other']), unit: z.string(), lows: levels, highs: levels })),
});
export type TraceAnswer = z.infer<typeof TRACE>;

/** Pressures as they come: CSV in parts, a beat is answered when the next one has begun. */
export const LIVE = z.strictObject({ liveId: ID, beats: z.array(z.custom<LiveBeat>()), findings: z.array(REFUSAL) });
export type LiveAnswer = z.infer<typeof LIVE>;

const grade = z.number().min(0).max(4);
export const GRADE_ASK = z.strictObject({ of: z.enum(['pressure', 'echo', 'angiogram', 'overall']), low: grade, high: grade, ...WITNESS_NOTE }).refine((g) => g.low <= g.high, { path: ['high'] });
/** A grade that the caller may see. */
export const GRADE = z.strictObject({ gradeId: ID, of: GRADE_ASK.shape.of, low: grade, high: grade, by: z.string(), at: z.string(), ...WITNESS_NOTE });
/**
 * The result as this caller may see it. `gate`, what is waited for and the caller's own grades always; the verdict itself only
 * through POST, which logs that it was shown.
 */
export const RESULT = z.strictObject({
  verdict: z.custom<VerdictAnswer>(),
  /** null while the gate is closed, or before it was asked to be shown. */
  answerSha256: SHA256.nullable(),
  grades: z.array(GRADE),
  isTraining: z.boolean(),
});
export type ResultAnswer = z.infer<typeof RESULT>;
/** Everything the Rhythm page says; the server's clock in `now`. */
export const RHYTHM = z.strictObject({
  answer: z.custom<RhythmAnswer>(), next: z.custom<NextEcg>(), ecgs: z.custom<RhythmCase['ecgs']>(), context: z.custom<RhythmContext>(), watch: z.custom<RhythmWatch>(),
  releasedAt: z.string().nullable(), reasons: z.custom<readonly Reason[]>(), now: z.string(), isTraining: z.boolean(),
});
export type RhythmPageAnswer = z.infer<typeof RHYTHM>;

const pixel = z.number().min(-100).max(20_000);
const polygon = z.array(z.tuple([pixel, pixel])).min(3).max(200);
export const ANGIOGRAM_ASK = z.strictObject({
  runId: ID,
  /** null: as proposed. */
  regions: z.strictObject({ aorta: polygon, outflow: polygon, background: polygon.optional() }).nullable(),
  /** First and last frame, from 1; null: all. */
  frames: z.tuple([z.number().int().min(1), z.number().int().min(1)]).nullable(),
  ratePerMin: z.number().min(10).max(350).nullable(),
  /** What a person saw; null: nobody said. */
  said: z.strictObject({ isBreathHeld: z.boolean().nullable(), isPaced: z.boolean().nullable(), isTableMoved: z.boolean().nullable(), hasOverlap: z.boolean().nullable() }),
  ...WITNESS_NOTE,
});
export const ANGIOGRAM = z.strictObject({ angiogramId: ID, answerSha256: SHA256, answer: z.unknown() });
export type AngiogramAnswer = z.infer<typeof ANGIOGRAM>;

export const ECHO_FILE = z.strictObject({
  echoId: ID, blobSha256: SHA256, is: z.enum(['report', 'picture']),
  fields: z.record(z.string(), z.union([z.string(), z.number(), z.boolean()])),
  /** What was in it and could not be used, each with why. */
  findings: z.array(REFUSAL),
});
export type EchoFileAnswer = z.infer<typeof ECHO_FILE>;
