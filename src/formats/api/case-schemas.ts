import { z } from 'zod';
import type { NewCaseEvent } from '../../core/case/case-events.ts';

/** Shapes that cross HTTP. Strict: a field that is not known here is refused. Units and frames as in the contract. */
export const SHA256 = z.string().regex(/^[0-9a-f]{64}$/);
export const ID = z.string().regex(/^[a-z0-9][a-z0-9-]{3,63}$/);
export const UID = z.string().regex(/^[0-9.]{1,64}$/);
const DATE = z.iso.date();
const coordinate = z.number().min(-2000).max(2000);
const XYZ = z.tuple([coordinate, coordinate, coordinate]);
const shortText = (most: number) => z.string().max(most);
const CUSPS_XYZ = z.strictObject({ R: XYZ, L: XYZ, N: XYZ });

export const PLANNED_CHOICE = z.strictObject({
  device: shortText(80).min(1), size: shortText(40).min(1), startMm: z.number().min(-10).max(25), paceBpm: z.number().min(30).max(260),
  isPredilated: z.boolean(), tension: z.enum(['neutral', 'pulling', 'pushing', 'unknown']), wireBiasMm: z.number().min(0).max(10),
});
const MARK_NAME = z.enum(['nadir.R', 'nadir.L', 'nadir.N', 'ostium.left', 'ostium.right']);

export const INSTANT = z.iso.datetime({ precision: 3 });
const FIELD = z.string().regex(/^[a-zA-Z][a-zA-Z0-9.-]{1,60}$/);
const FIELD_VALUE = z.union([shortText(400), z.number(), z.boolean(), z.null()]);
const rate = z.number().min(10).max(350).nullable();
/** What a person says beside a witness. */
export const WITNESS_NOTE = { takenAt: INSTANT, heartRatePerMin: rate, loadingNote: shortText(200).nullable() };
const pixel = z.number().min(-100).max(20_000);
const ECHO_TRACE = z.strictObject({ blobSha256: SHA256, frame: z.number().int().min(0).max(100_000), is: z.enum(['envelope', 'slope', 'distance', 'clock']), points: z.array(z.tuple([pixel, pixel])).min(2).max(500) });
export const ECG_MOMENT = z.enum(['baseline', 'post', 'h24', 'h48']);
const ECG_WORDS = z.strictObject({
  at: INSTANT, rhythm: z.enum(['sinus', 'atrial-fibrillation', 'paced-ventricle', 'paced-atrium', 'other']).nullable(),
  prMs: z.number().min(1).max(2000).nullable(), qrsMs: z.number().min(1).max(2000).nullable(), ratePerMin: rate, hvMs: z.number().min(1).max(1000).nullable(),
  bundleBlock: z.enum(['none', 'left', 'right', 'other']).nullable(), avBlock: z.enum(['none', 'first-degree', 'wenckebach', 'mobitz-2', 'two-to-one', 'high-grade', 'complete']).nullable(),
});

const supersedes = z.number().int().positive().nullable().optional();
const event = <K extends string, D extends z.ZodType>(kind: K, data: D) => z.strictObject({ kind: z.literal(kind), data, supersedes });
/** Events that a person may hand in. What the tool itself finds (scan.joined, plan.made, ...) is not among them. */
export const PERSON_EVENT = z.discriminatedUnion('kind', [
  event('case.dated', z.strictObject({ procedureOn: DATE.nullable() })),
  event('referral.entered', z.strictObject({ field: z.string().regex(/^[a-zA-Z][a-zA-Z0-9.-]{1,60}$/), value: z.union([shortText(400), z.number(), z.boolean(), z.null()]), unit: shortText(20).nullable() })),
  event('series.chosen', z.strictObject({ scanId: ID, seriesUid: UID })),
  event('tables.chosen', z.strictObject({ devicesSha256: SHA256.nullable(), rulesSha256: SHA256.nullable(), rescueSha256: SHA256.nullable().optional(), rhythmSha256: SHA256.nullable().optional() })),
  event('mark.moved', z.strictObject({ mark: MARK_NAME, lps: XYZ.nullable(), was: XYZ.nullable() })),
  event('ring.drawn', z.strictObject({ contourLps: z.array(XYZ).min(8).max(720).nullable() })),
  event('alternative.pinned', z.strictObject({ pinId: ID, choice: PLANNED_CHOICE, note: shortText(200) })),
  event('alternative.unpinned', z.strictObject({ pinId: ID })),
  event('reading.saved', z.strictObject({ readingId: ID, planSha256: SHA256, landmarksSha256: SHA256.nullable() })),
  event('consensus.set', z.strictObject({ fromReadings: z.array(ID).min(2).max(10), nadirsLps: CUSPS_XYZ })),
  event('doubt.accepted', z.strictObject({ code: shortText(80).min(1), section: shortText(40).min(1), because: shortText(400).min(3) })),
  event('huddle.entered', z.strictObject({ field: z.string().regex(/^[a-zA-Z][a-zA-Z0-9.-]{1,60}$/), value: z.union([shortText(400), z.number(), z.boolean(), z.null()]) })),
  event('branch.agreed', z.strictObject({ branch: z.enum(['moved-up', 'moved-down', 'leaks']), plan: z.strictObject({ person: shortText(80).min(1), item: shortText(120).min(1), place: shortText(120).min(1) }).nullable() })),
  event('blocker.overridden', z.strictObject({ code: shortText(80).min(1), because: shortText(400).min(3) })),
  event('witness.noted', z.strictObject({ of: ID, ...WITNESS_NOTE })),
  event('witness.withdrawn', z.strictObject({ of: ID, because: shortText(400).min(3) })),
  event('echo.begun', z.strictObject({ echoId: ID, takenAt: INSTANT })),
  event('echo.entered', z.strictObject({ echoId: ID, field: FIELD, value: FIELD_VALUE, trace: ECHO_TRACE.nullable(), halfWidth: z.number().positive().max(1e5).nullable().optional() })),
  event('readers.present', z.strictObject({ personIds: z.array(ID).max(20) })),
  event('result.entered', z.strictObject({ field: FIELD, value: FIELD_VALUE })),
  event('result.decided', z.strictObject({ decision: z.enum(['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery', 'finish']), because: shortText(400).min(3), answerSha256: SHA256.nullable() })),
  event('ecg.entered', z.strictObject({ moment: ECG_MOMENT, words: ECG_WORDS.nullable() })),
]);
/** Proven by the compiler: whatever passes is an event of the core. */
export type PersonEvent = z.infer<typeof PERSON_EVENT> extends NewCaseEvent ? z.infer<typeof PERSON_EVENT> : never;

export const JOB = z.strictObject({
  jobId: ID, caseId: ID, kind: z.enum(['import', 'plan', 'block']), state: z.enum(['receiving', 'waiting', 'running', 'done', 'failed', 'cancelled']),
  progress: z.strictObject({ step: z.string(), ratio: z.number().min(0).max(1) }),
  failure: z.strictObject({ code: z.string(), text: z.string(), next: z.string() }).nullable(),
  createdAt: z.string(), changedAt: z.string(),
});
export const CASE_LINE = z.strictObject({
  caseId: ID, label: z.string(), procedureOn: z.string().nullable(), training: z.boolean(), seq: z.number().int(), changedAt: z.string(),
  missing: z.array(z.string()), planState: z.enum(['none', 'planning', 'made', 'stale', 'refused']),
});
export const NEW_CASE = z.strictObject({ label: shortText(60).min(1), procedureOn: DATE.nullable() });
export { DATE, shortText };
