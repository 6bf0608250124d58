import { z } from 'zod';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { ID, INSTANT, SHA256, shortText } from './case-schemas.ts';

/** Shapes of the room's log as they cross HTTP; strict, like all others. */
const depthMm = z.number().min(-40).max(60);
export const VIEW = z.strictObject({ primaryDeg: z.number().min(-180).max(180), secondaryDeg: z.number().min(-90).max(90) });
const WHO = shortText(60).min(1);
const ratio = z.number().min(0).max(1).nullable();
const DEPTH_READING = z.strictObject({
  depthMm, lowMm: depthMm, highMm: depthMm, state: z.enum(['uncorrected', 'corrected']), by: z.enum(['marks', 'entered']), views: z.array(VIEW).min(1).max(8),
  cusp: z.literal('N'), edge: z.literal('inflow'), clicks: z.number().int().min(0).max(50), unsheathedRatio: ratio,
});
const GRADE = z.number().min(0).max(4).nullable();
const CAUSE = z.enum(['start-height', 'septal-bulge', 'taper', 'wire-bias', 'no-pacing', 'calcium', 'undersized']);
const entry = <K extends string, S extends z.ZodRawShape>(is: K, shape: S) => z.strictObject({ is: z.literal(is), ...shape });
export const ROOM_ENTRY = z.discriminatedUnion('is', [
  entry('phase', { phase: z.enum(['identity', 'access', 'crossing', 'valve-in', 'position', 'releasing', 'decision', 'released', 'result', 'closing', 'handover']) }),
  entry('pacing', { isOn: z.boolean(), ratePerMin: z.number().min(30).max(260).nullable() }),
  entry('view', { view: VIEW }),
  entry('depth', { reading: DEPTH_READING }),
  entry('fraction', { ratio }),
  entry('hold', { hold: z.enum(['A', 'B', 'C']), answer: z.enum(['go on', 'recapture', 'wait', 'act', 'finish', 'cannot say']), who: WHO }),
  entry('moved', { direction: z.enum(['up', 'down', 'unknown']), mm: z.number().min(0).max(100).nullable() }),
  entry('recaptured', { isWhole: z.boolean() }),
  entry('valve-out', { inspected: z.boolean(), replaced: z.boolean() }),
  entry('kit', { item: shortText(80).min(1), isReady: z.boolean() }),
  entry('wire', { did: z.enum(['moved', 'exchanged']), side: z.enum(['outer curve', 'inner curve', 'centre']).nullable() }),
  entry('tension', { tension: z.enum(['neutral', 'pulling', 'pushing', 'unknown']) }),
  entry('dilated', { balloonMm: z.number().min(5).max(40).nullable(), when: z.enum(['before', 'after']) }),
  entry('heparin', { units: z.number().min(0).max(50000) }),
  entry('act', { seconds: z.number().min(0).max(2000) }),
  entry('contrast', { ml: z.number().min(0).max(1000) }),
  entry('radiation', { airKermaMGy: z.number().min(0).max(100000).nullable(), doseAreaGyCm2: z.number().min(0).max(10000).nullable(), fluoroscopyMin: z.number().min(0).max(600).nullable() }),
  entry('pressure', { systolicMmHg: z.number().min(0).max(350), diastolicMmHg: z.number().min(0).max(250), endDiastolicMmHg: z.number().min(-10).max(150).nullable(), heartRatePerMin: z.number().min(0).max(350).nullable() }),
  entry('rescue', { card: shortText(60).min(1), did: z.enum(['opened', 'ticked', 'unticked', 'closed']), line: z.number().int().min(0).max(40).nullable() }),
  entry('causes', { closedAs: z.array(CAUSE).max(7), because: shortText(400), who: WHO }),
  entry('clock', { name: z.enum(['recorder', 'c-arm', 'wall clock']), aheadS: z.number().min(-86400).max(86400) }),
  entry('show', { card: z.enum(['plan', 'kit', 'view', 'valve', 'depth', 'time', 'jump', 'result', 'verdict', 'remedies', 'totals', 'handover', 'screen']).nullable() }),
  entry('screen', { wall: z.string().regex(/^[A-Z][0-9]$/), barMm: z.number().min(50).max(5000) }),
  entry('verdict', {
    answerSha256: SHA256, word: z.enum(['AGREE', 'DISAGREE', 'NOT SETTLED', 'ONE WITNESS ONLY', 'CANNOT SAY']), side: z.enum(['below', 'above']).nullable(),
    witnesses: z.array(z.strictObject({ kind: z.enum(['pressure', 'echo', 'angiogram']), low: GRADE, high: GRADE })).max(3),
    remedies: z.array(z.strictObject({ code: z.enum(['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery']), state: z.enum(['open', 'closed', 'cannot say']), detail: shortText(200) })).max(6),
    waitUntil: INSTANT.nullable(), next: shortText(300), roundAt: INSTANT.nullable().optional(), isUnverified: z.boolean().optional(),
  }),
  entry('note', { text: shortText(200).min(1) }),
]);
export const ROOM_RECORD = z.strictObject({
  entryId: ID, clientId: ID, place: z.enum(['desk', 'remote', 'wall']), count: z.number().int().min(1).max(1_000_000),
  monotonicMs: z.number().min(0).max(1e11), clientAt: INSTANT, happenedAt: INSTANT,
  offset: z.strictObject({ addedMs: z.number(), withinMs: z.number().min(0) }).nullable(),
  corrects: ID.nullable(), entry: ROOM_ENTRY.nullable(),
}).refine((record) => record.entry !== null || record.corrects !== null, { path: ['entry'] });
/** Proven by the compiler: whatever passes is a record of the core. */
export type CheckedRecord = z.infer<typeof ROOM_RECORD> extends RoomRecord ? z.infer<typeof ROOM_RECORD> : never;

/** What may be paired to a room by a code. */
export const PAIRING_KIND = z.enum(['remote', 'wall']);
/** `waiting`: the code has not been used; `over`: its time is up or it was ended. */
export const PAIRING = z.strictObject({ pairingId: ID, kind: PAIRING_KIND, by: z.string(), madeAt: z.string(), expiresAt: z.string(), usedAt: z.string().nullable(), state: z.enum(['waiting', 'in use', 'over']) });
