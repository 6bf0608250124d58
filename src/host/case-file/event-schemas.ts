import { z } from 'zod';
import type { CaseEventData, CaseEventKind } from '../../core/case/case-events.ts';
import { ECG_MOMENT, ID, INSTANT, PERSON_EVENT, SHA256, shortText } from '../../formats/api/case-schemas.ts';
import { ROOM_RECORD, VIEW } from '../../formats/api/room-schemas.ts';

/**
 * What each event of a case file must look like before it is folded: a file comes from anywhere, and a whole chain can be
 * made by anybody. Events of people have the shapes that cross HTTP; those that the tool finds itself have theirs here.
 */
const whole = z.number().int().min(0);
const IDENTITY_FIELDS = z.array(z.strictObject({ field: z.enum(['name', 'birthDate', 'sex', 'patientId']), result: z.enum(['same', 'differs', 'missing']) })).max(4);
const VERDICT = z.enum(['same', 'differs', 'not comparable']);
const IDENTITY = z.strictObject({ verdict: VERDICT, fields: IDENTITY_FIELDS, acceptedBecause: shortText(1000).nullable() });

const OF_THE_TOOL = {
  'case.opened': z.strictObject({ label: shortText(200), procedureOn: z.iso.date().nullable(), training: z.boolean() }),
  'scan.joined': z.strictObject({ scanId: ID, manifestSha256: SHA256, files: whole, bytes: whole, identity: IDENTITY }),
  'plan.made': z.strictObject({ planSha256: SHA256, surveySha256: SHA256.nullable(), basedOnSeq: whole }),
  'plan.refused': z.strictObject({ code: shortText(200), text: shortText(4000), next: shortText(4000), basedOnSeq: whole }),
  'identity.checked': z.strictObject({ verdict: VERDICT, fields: z.array(z.strictObject({ field: shortText(40), result: z.enum(['same', 'differs', 'missing']) })).max(10) }),
  'plan.frozen': z.strictObject({ frozenSha256: SHA256, planSha256: SHA256, basedOnSeq: whole, amends: SHA256.nullable(), differences: z.array(shortText(400)).max(10_000) }),
  'run.joined': z.strictObject({ runId: ID, blobSha256: SHA256, frames: whole, rows: whole, columns: whole, view: VIEW.nullable(), identity: IDENTITY }),
  'room.logged': ROOM_RECORD,
  'recording.joined': z.strictObject({
    recordingId: ID, moment: z.enum(['baseline', 'after']), blobSha256: SHA256, answerSha256: SHA256.nullable(),
    refusal: z.strictObject({ code: shortText(200), text: shortText(4000), next: shortText(4000) }).nullable(),
    format: z.enum(['dicom', 'edf', 'wfdb', 'csv']), channels: shortText(2000).nullable(), takenAt: INSTANT, durationS: z.number().min(0), identity: IDENTITY,
  }),
  'echo.joined': z.strictObject({ echoId: ID, blobSha256: SHA256, is: z.enum(['report', 'picture']), fields: z.record(shortText(80), z.union([shortText(400), z.number(), z.boolean()])), halfWidths: z.record(shortText(80), z.number().positive()).optional(), identity: IDENTITY }),
  'angiogram.measured': z.strictObject({ angiogramId: ID, runId: ID, answerSha256: SHA256 }),
  'grade.sealed': z.strictObject({ gradeId: ID, of: z.enum(['pressure', 'echo', 'angiogram', 'overall']), sealedSha256: SHA256 }),
  'verdict.shown': z.strictObject({ what: z.enum(['verdict', 'grades']), answerSha256: SHA256 }),
  'ecg.joined': z.strictObject({ moment: ECG_MOMENT, blobSha256: SHA256, readingSha256: SHA256, takenAt: INSTANT, identity: IDENTITY }),
} as const;
/** Sign of the compiler that the list is whole: kinds of people and of the tool together are all kinds. */
type Missing = Exclude<CaseEventKind, keyof typeof OF_THE_TOOL | z.infer<typeof PERSON_EVENT>['kind']>;
const _NONE_MISSING: [Missing] extends [never] ? true : Missing = true;

export interface DataIssue {
  readonly field: string;
  readonly problem: string;
}
/** Why an event's kind and data cannot be taken; null: they can. */
export function checkEventData(kind: string, data: unknown): DataIssue | null {
  const schema = Object.hasOwn(OF_THE_TOOL, kind) ? OF_THE_TOOL[kind as keyof typeof OF_THE_TOOL] : null;
  const parsed = schema ? schema.safeParse(data) : PERSON_EVENT.safeParse({ kind, data });
  return parsed.success ? null : describeIssue(parsed.error);
}

/** Field names are those of our own schemas; a key that is not known is not repeated. */
export function describeIssue(error: z.ZodError): DataIssue {
  const issue = error.issues[0]!;
  return { field: issue.path.map(String).join('.') || 'its beginning', problem: issue.code };
}

/** One line of events.ndjson (contract, "Event log"); the case's id stands once, in case.json. */
export const EVENT_LINE = z.strictObject({
  seq: z.number().int().min(1), at: z.iso.datetime({ precision: 3 }), by: shortText(200).min(1), kind: shortText(60).min(1), data: z.custom<CaseEventData[CaseEventKind]>((v) => v !== null && typeof v === 'object'),
  supersedes: z.number().int().min(1).optional(), prevSha256: SHA256, sha256: SHA256,
});
/** case.json: which case, and up to where its log was acknowledged. Written whole after each flush of the log. */
export const CASE_HEAD = z.strictObject({ format: z.literal('trinadir.case/1'), caseId: ID, seq: z.number().int().min(1), sha256: SHA256 });
export type CaseHead = z.infer<typeof CASE_HEAD>;
