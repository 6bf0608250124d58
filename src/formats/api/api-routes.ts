import { z } from 'zod';
import type { CaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { CASE_LINE, DATE, ID, INSTANT, JOB, NEW_CASE, PERSON_EVENT, PLANNED_CHOICE, SHA256, shortText } from './case-schemas.ts';
import { PAIRING, PAIRING_KIND, ROOM_RECORD } from './room-schemas.ts';
import { ANGIOGRAM, ANGIOGRAM_ASK, ECG_ASK, ECHO_FILE, GRADE_ASK, LIVE, MOST_LIVE_BYTES, MOST_RECORDING_BYTES, RECORDING, RECORDING_ASK, RESULT, RHYTHM, TRACE, TRACE_ASK } from './result-schemas.ts';
import { MOST_RUN_BYTES, RUN } from './run-schemas.ts';

/**
 * The whole HTTP API as one table: the server binds it, the page's client and the OpenAPI document are made from it, and
 * the fuzz tests read it. `needs` is the least a person must be allowed; 'nobody' needs no session.
 */
export type Need = 'nobody' | 'session' | 'read-case' | 'read-room' | 'log-room' | 'edit-case' | 'open-case' | 'sign-tables' | 'manage-people' | 'read-audit';
export interface Route<P extends z.ZodType = z.ZodType, Q extends z.ZodType = z.ZodType, B extends z.ZodType = z.ZodType, A extends z.ZodType = z.ZodType> {
  readonly method: 'GET' | 'POST' | 'PATCH' | 'DELETE';
  /** Parameters in braces, as OpenAPI writes them. */
  readonly path: `/api/${string}`;
  readonly summary: string;
  readonly needs: Need;
  readonly params: P;
  readonly query: Q;
  readonly body: B | null;
  /** JSON shape, or what kind of stream it is. */
  readonly answer: A | 'bytes' | 'event-stream';
  /** Largest body, bytes. */
  readonly mostBytes: number;
}
const NOTHING = z.strictObject({});
type Parts<P extends z.ZodType, Q extends z.ZodType, B extends z.ZodType, A extends z.ZodType> = Pick<Route<P, Q, B, A>, 'method' | 'path' | 'summary' | 'needs' | 'answer'> & { readonly params?: P; readonly query?: Q; readonly body?: B; readonly mostBytes?: number };
function route<A extends z.ZodType = z.ZodNever, P extends z.ZodType = typeof NOTHING, Q extends z.ZodType = typeof NOTHING, B extends z.ZodType = z.ZodNever>(parts: Parts<P, Q, B, A>): Route<P, Q, B, A> {
  return { mostBytes: 64 * 1024, ...parts, params: parts.params ?? (NOTHING as unknown as P), query: parts.query ?? (NOTHING as unknown as Q), body: parts.body ?? null };
}
const CASE = z.strictObject({ caseId: ID });
const PERSON = z.strictObject({ personId: ID, login: z.string(), displayName: z.string(), role: z.enum(['viewer', 'planner', 'operator', 'programme', 'admin']), isActive: z.boolean(), hasPassword: z.boolean(), hasOidc: z.boolean() });
const LOGIN = z.string().regex(/^[a-z0-9][a-z0-9._-]{1,39}$/);
const PASSWORD = z.string().min(12).max(200);
/** `scope`: a wall or a remote that was paired by a code; it may do what its room needs and nothing else. */
const SESSION = z.strictObject({ person: PERSON.nullable(), csrfToken: z.string().nullable(), needsFirstPerson: z.boolean(), oidcLabel: z.string().nullable(), version: z.string(), scope: z.strictObject({ kind: PAIRING_KIND, caseId: ID }).nullable() });
/** Documents of the core: their shape is the contract's and is not repeated here. */
const STATE = z.custom<CaseState>();
const EVENTS = z.array(z.custom<CaseEvent>());
const NULL = z.null();
/** The log's news since `after`: records as the log holds them, and the frozen plan that acts. */
const ROOM_NEWS = z.strictObject({ caseId: ID, label: z.string(), training: z.boolean(), frozen: z.custom<CaseState['frozen']>(), seq: z.number().int(), records: z.array(z.custom<RoomRecord & { readonly by: string; readonly seq: number }>()) });
/** What the log of the room is handed over as. */
export const LOG_FORMATS = ['csv', 'pdf', 'fhir'] as const;
/** What the Huddle, Plan and Wall print as. */
export const PRINTS = ['plan', 'huddle', 'wall'] as const;
/** `result`: the verdict that the caller was shown last. */
export const ALL_PRINTS = [...PRINTS, 'result'] as const;

export const ROUTES = {
  readSession: route({ method: 'GET', path: '/api/session', summary: 'Who is logged in here', needs: 'nobody', answer: SESSION }),
  openSession: route({ method: 'POST', path: '/api/session', summary: 'Log in with a local account', needs: 'nobody', body: z.strictObject({ login: shortText(40).min(1), password: shortText(200).min(1) }), answer: SESSION }),
  endSession: route({ method: 'DELETE', path: '/api/session', summary: 'Log out', needs: 'session', answer: NULL }),
  /** Only with the token that the program printed at its first start. */
  addFirstPerson: route({ method: 'POST', path: '/api/first-person', summary: 'Make the first account', needs: 'nobody', body: z.strictObject({ startToken: shortText(80), login: LOGIN, displayName: shortText(80).min(1), password: PASSWORD }), answer: SESSION }),
  changeOwnPassword: route({ method: 'POST', path: '/api/session/password', summary: 'Change one’s own password', needs: 'session', body: z.strictObject({ was: shortText(200), is: PASSWORD }), answer: NULL }),

  listPeople: route({ method: 'GET', path: '/api/people', summary: 'Accounts', needs: 'manage-people', answer: z.array(PERSON) }),
  /** For "by whom" beside an entry: names alone, no log-in names and no roles. */
  listNames: route({ method: 'GET', path: '/api/names', summary: 'What colleagues are called', needs: 'session', answer: z.array(z.strictObject({ personId: ID, displayName: z.string() })) }),
  addPerson: route({ method: 'POST', path: '/api/people', summary: 'Make an account', needs: 'manage-people', body: z.strictObject({ login: LOGIN, displayName: shortText(80).min(1), role: PERSON.shape.role, password: PASSWORD.nullable() }), answer: PERSON }),
  changePerson: route({ method: 'PATCH', path: '/api/people/{personId}', summary: 'Change an account', needs: 'manage-people', params: z.strictObject({ personId: ID }), body: z.strictObject({ displayName: shortText(80).min(1).optional(), role: PERSON.shape.role.optional(), isActive: z.boolean().optional(), password: PASSWORD.optional() }), answer: PERSON }),

  listCases: route({ method: 'GET', path: '/api/cases', summary: 'Work list by procedure date', needs: 'session', query: z.strictObject({ find: shortText(60).optional(), missing: shortText(40).optional(), after: ID.optional(), limit: z.coerce.number().int().min(1).max(500).default(100) }), answer: z.strictObject({ cases: z.array(CASE_LINE), total: z.number().int() }) }),
  openCase: route({ method: 'POST', path: '/api/cases', summary: 'Open a case', needs: 'open-case', body: NEW_CASE, answer: STATE }),
  readCase: route({ method: 'GET', path: '/api/cases/{caseId}', summary: 'State of a case, with its jobs that are not over and its newest import when that failed', needs: 'read-case', params: CASE, answer: z.strictObject({ state: STATE, jobs: z.array(JOB) }) }),
  listEvents: route({ method: 'GET', path: '/api/cases/{caseId}/events', summary: 'Events of a case', needs: 'read-case', params: CASE, query: z.strictObject({ after: z.coerce.number().int().min(0).default(0) }), answer: EVENTS }),
  /** 409 with the events the writer had not seen when `expectSeq` is not the last one. */
  addEvents: route({ method: 'POST', path: '/api/cases/{caseId}/events', summary: 'Add events', needs: 'edit-case', params: CASE, body: z.strictObject({ expectSeq: z.number().int().min(0), events: z.array(PERSON_EVENT).min(1).max(50) }), answer: z.strictObject({ state: STATE, events: EVENTS }), mostBytes: 512 * 1024 }),
  /** Server-sent events: `case` (new events), `job` (progress). */
  followCase: route({ method: 'GET', path: '/api/cases/{caseId}/feed', summary: 'What happens to a case, as it happens', needs: 'read-case', params: CASE, answer: 'event-stream' }),

  readPlan: route({ method: 'GET', path: '/api/cases/{caseId}/plans/{sha256}', summary: 'plan.json', needs: 'read-case', params: z.strictObject({ caseId: ID, sha256: SHA256 }), answer: 'bytes' }),
  readSurvey: route({ method: 'GET', path: '/api/cases/{caseId}/surveys/{sha256}', summary: 'Wall, frame and cuts behind a plan: what moved marks are answered from at once', needs: 'read-case', params: z.strictObject({ caseId: ID, sha256: SHA256 }), answer: 'bytes' }),
  listVolumes: route({ method: 'GET', path: '/api/cases/{caseId}/volumes', summary: 'Series and phases of the scan, with findings', needs: 'read-case', params: CASE, answer: z.array(z.strictObject({ seriesUid: z.string(), description: z.string().nullable(), phasePercent: z.number().nullable(), slices: z.number().int(), spacingMm: z.array(z.number()), verdict: z.string(), isMeasured: z.boolean(), findings: z.array(z.strictObject({ code: z.string(), severity: z.string(), text: z.string(), next: z.string() })) })) }),
  /** Header fields X-Dims, X-Lps-From-Voxel, X-Padding-Hu; Int16 little-endian, x fastest. */
  readBlock: route({ method: 'GET', path: '/api/cases/{caseId}/block', summary: 'The CT around the root', needs: 'read-case', params: CASE, query: z.strictObject({ seriesUid: shortText(64).optional() }), answer: 'bytes' }),
  readSurface: route({ method: 'GET', path: '/api/cases/{caseId}/surfaces/{name}', summary: 'A surface as STL', needs: 'read-case', params: z.strictObject({ caseId: ID, name: z.enum(['root-lumen.stl', 'calcium.stl']) }), answer: 'bytes' }),
  startPlan: route({ method: 'POST', path: '/api/cases/{caseId}/plan', summary: 'Plan the case as it is now', needs: 'edit-case', params: CASE, body: NOTHING, answer: JOB }),
  /** Answered within 0.3 s; the forecast of one choice, and its change against the plan's. */
  askWhatIf: route({ method: 'POST', path: '/api/cases/{caseId}/what-if', summary: 'The forecast of another choice', needs: 'read-case', params: CASE, body: z.strictObject({ choice: PLANNED_CHOICE, planSha256: SHA256 }), answer: z.unknown() }),
  saveLandmarks: route({ method: 'POST', path: '/api/cases/{caseId}/landmarks', summary: 'Keep a set of marks as a document (a reading)', needs: 'edit-case', params: CASE, body: z.unknown(), answer: z.strictObject({ sha256: SHA256 }), mostBytes: 512 * 1024 }),
  readLandmarks: route({ method: 'GET', path: '/api/cases/{caseId}/landmarks/{sha256}', summary: 'A kept set of marks', needs: 'read-case', params: z.strictObject({ caseId: ID, sha256: SHA256 }), answer: 'bytes' }),
  print: route({ method: 'GET', path: '/api/cases/{caseId}/prints/{name}', summary: 'PDF of plan, huddle sheet, wall cards or result', needs: 'read-case', params: z.strictObject({ caseId: ID, name: z.enum(ALL_PRINTS) }), answer: 'bytes' }),

  readRoom: route({ method: 'GET', path: '/api/cases/{caseId}/room', summary: 'Records of the room that are new since an event', needs: 'read-room', params: CASE, query: z.strictObject({ after: z.coerce.number().int().min(0).default(0) }), answer: ROOM_NEWS }),
  /** Records that the log has already are `known` and change nothing; none is refused because another page wrote meanwhile. */
  logRoom: route({ method: 'POST', path: '/api/cases/{caseId}/room', summary: 'Log taps of the room', needs: 'log-room', params: CASE, body: z.strictObject({ records: z.array(ROOM_RECORD).min(1).max(200) }), answer: z.strictObject({ seq: z.number().int(), taken: z.array(ID), known: z.array(ID) }), mostBytes: 512 * 1024 }),
  /** Server-sent events: `room`, with what is new since `after` or the last event that the page had. */
  followRoom: route({ method: 'GET', path: '/api/cases/{caseId}/room/feed', summary: 'What is logged in the room, as it happens', needs: 'read-room', params: CASE, query: z.strictObject({ after: z.coerce.number().int().min(0).default(0) }), answer: 'event-stream' }),
  compareClock: route({ method: 'GET', path: '/api/clock', summary: 'The time of the server', needs: 'session', answer: z.strictObject({ at: z.string(), nowMs: z.number() }) }),
  /** The code is told here and nowhere else; it is good once, for some minutes. */
  makePairing: route({ method: 'POST', path: '/api/cases/{caseId}/pairings', summary: 'A code that lets a wall or a remote into this room', needs: 'log-room', params: CASE, body: z.strictObject({ kind: PAIRING_KIND }), answer: z.strictObject({ pairingId: ID, code: z.string(), expiresAt: z.string() }) }),
  listPairings: route({ method: 'GET', path: '/api/cases/{caseId}/pairings', summary: 'Walls and remotes of this room', needs: 'read-room', params: CASE, answer: z.array(PAIRING) }),
  endPairing: route({ method: 'DELETE', path: '/api/cases/{caseId}/pairings/{pairingId}', summary: 'Take a code back, or let a wall or a remote go', needs: 'log-room', params: z.strictObject({ caseId: ID, pairingId: ID }), answer: NULL }),
  exportLog: route({ method: 'GET', path: '/api/cases/{caseId}/log/{format}', summary: 'The log of the room as a table, a PDF or a FHIR bundle', needs: 'read-case', params: z.strictObject({ caseId: ID, format: z.enum(LOG_FORMATS) }), answer: 'bytes' }),
  usePairing: route({ method: 'POST', path: '/api/pairings', summary: 'Come in by a code', needs: 'nobody', body: z.strictObject({ code: shortText(20).min(1) }), answer: SESSION }),

  /** Two of number, birth date and name, read from the patient. Compared and forgotten: only which fields agreed is kept. */
  checkIdentity: route({ method: 'POST', path: '/api/cases/{caseId}/identity', summary: 'Compare what was read from the patient with the case', needs: 'edit-case', params: CASE, body: z.strictObject({ patientId: shortText(64).optional(), birthDate: DATE.optional(), name: shortText(120).optional() }), answer: z.strictObject({ state: STATE, verdict: z.enum(['same', 'differs', 'not comparable']), fields: z.array(z.strictObject({ field: z.string(), result: z.enum(['same', 'differs', 'missing']) })) }) }),
  /** 409 freeze-blocked while something stands in the way; a frozen plan is amended by freezing again. */
  freezePlan: route({ method: 'POST', path: '/api/cases/{caseId}/freeze', summary: 'Freeze the plan for the room', needs: 'edit-case', params: CASE, body: z.strictObject({ expectSeq: z.number().int().min(0) }), answer: z.strictObject({ state: STATE, frozenSha256: SHA256 }) }),
  readFrozen: route({ method: 'GET', path: '/api/cases/{caseId}/frozen/{sha256}', summary: 'A frozen plan, its canonical bytes', needs: 'read-room', params: z.strictObject({ caseId: ID, sha256: SHA256 }), answer: 'bytes' }),

  /** Body: the bytes of one DICOM file (application/dicom); a reason in BECAUSE_HEADER joins a run that does not name this patient. */
  addRun: route({ method: 'POST', path: '/api/cases/{caseId}/runs', summary: 'Hand in an angiographic run', needs: 'edit-case', params: CASE, answer: RUN, mostBytes: MOST_RUN_BYTES }),
  readRun: route({ method: 'GET', path: '/api/cases/{caseId}/runs/{runId}', summary: 'Frames, angles and scale of a run', needs: 'read-case', params: z.strictObject({ caseId: ID, runId: ID }), answer: RUN }),
  /** 8 bit grey, row by row, under the window that the file states, or the file's own JPEG (image/jpeg); header fields X-Rows, X-Columns. Frames count from 1. */
  readRunFrame: route({ method: 'GET', path: '/api/cases/{caseId}/runs/{runId}/frames/{number}', summary: 'One frame of a run', needs: 'read-case', params: z.strictObject({ caseId: ID, runId: ID, number: z.string().regex(/^[1-9]\d{0,4}$/) }), answer: 'bytes' }),

  /** Body: the bytes of one recording; of a WFDB record a ZIP of its parts. A reason in BECAUSE_HEADER joins one that does not name this patient. */
  addRecording: route({ method: 'POST', path: '/api/cases/{caseId}/recordings', summary: 'Hand in pressures', needs: 'edit-case', params: CASE, query: RECORDING_ASK, answer: RECORDING, mostBytes: MOST_RECORDING_BYTES }),
  readRecording: route({ method: 'GET', path: '/api/cases/{caseId}/recordings/{recordingId}', summary: 'What was measured in a recording of pressures', needs: 'read-case', params: z.strictObject({ caseId: ID, recordingId: ID }), answer: RECORDING }),
  readTrace: route({ method: 'GET', path: '/api/cases/{caseId}/recordings/{recordingId}/trace', summary: 'Curves of a recording, for a picture', needs: 'read-case', params: z.strictObject({ caseId: ID, recordingId: ID }), query: TRACE_ASK, answer: TRACE }),
  /** Pressures as they come. One feed at a time of a case; it is forgotten when nothing comes for some minutes. */
  openLive: route({ method: 'POST', path: '/api/cases/{caseId}/live', summary: 'Begin to hand in pressures as they come', needs: 'edit-case', params: CASE, body: z.strictObject({ channels: shortText(2000).nullable() }), answer: LIVE }),
  /** Body: the next part of a CSV stream (text/csv), cut anywhere. */
  appendLive: route({ method: 'POST', path: '/api/cases/{caseId}/live/{liveId}', summary: 'The next samples; answered with the beats that they close', needs: 'edit-case', params: z.strictObject({ caseId: ID, liveId: ID }), answer: LIVE, mostBytes: MOST_LIVE_BYTES }),
  /** With `keep` it becomes a recording of the case, else it is forgotten. */
  endLive: route({ method: 'POST', path: '/api/cases/{caseId}/live/{liveId}/end', summary: 'The stream is over', needs: 'edit-case', params: z.strictObject({ caseId: ID, liveId: ID }), body: z.strictObject({ keep: z.strictObject({ moment: z.enum(['baseline', 'after']), takenAt: INSTANT }).nullable() }), answer: RECORDING.nullable() }),
  /** Body: one DICOM file, a structured report or an ultrasound picture with calibrated regions. */
  addEchoFile: route({ method: 'POST', path: '/api/cases/{caseId}/echoes/{echoId}/files', summary: 'Hand in an echo report or picture', needs: 'edit-case', params: z.strictObject({ caseId: ID, echoId: ID }), answer: ECHO_FILE, mostBytes: MOST_RUN_BYTES }),
  readEchoPicture: route({ method: 'GET', path: '/api/cases/{caseId}/echoes/{echoId}/pictures/{sha256}', summary: 'Size and calibrated regions of an echo picture', needs: 'read-case', params: z.strictObject({ caseId: ID, echoId: ID, sha256: SHA256 }), answer: z.unknown() }),
  /** 8 bit grey, row by row; header fields X-Rows, X-Columns. Frames count from 1. */
  readEchoFrame: route({ method: 'GET', path: '/api/cases/{caseId}/echoes/{echoId}/pictures/{sha256}/frames/{number}', summary: 'One frame of an echo picture', needs: 'read-case', params: z.strictObject({ caseId: ID, echoId: ID, sha256: SHA256, number: z.string().regex(/^[1-9]\d{0,4}$/) }), answer: 'bytes' }),
  measureAngiogram: route({ method: 'POST', path: '/api/cases/{caseId}/angiograms', summary: 'Measure the densities of a run', needs: 'edit-case', params: CASE, body: ANGIOGRAM_ASK, answer: ANGIOGRAM }),
  readAngiogram: route({ method: 'GET', path: '/api/cases/{caseId}/angiograms/{angiogramId}', summary: 'Densities that were measured', needs: 'read-case', params: z.strictObject({ caseId: ID, angiogramId: ID }), answer: ANGIOGRAM }),
  /** Sealed: nobody sees it before they have stored one of their own. */
  giveGrade: route({ method: 'POST', path: '/api/cases/{caseId}/grades', summary: 'Store one’s own grade of the leak', needs: 'edit-case', params: CASE, body: GRADE_ASK, answer: RESULT }),
  readResult: route({ method: 'GET', path: '/api/cases/{caseId}/result', summary: 'What the caller may see of the result', needs: 'read-case', params: CASE, answer: RESULT }),
  /** 409 grade-first while a reader who is present has not stored a grade. What is shown is kept and logged. */
  showVerdict: route({ method: 'POST', path: '/api/cases/{caseId}/verdict', summary: 'Show the verdict', needs: 'edit-case', params: CASE, body: NOTHING, answer: RESULT }),
  /** Body: the bytes of one ECG record; of a WFDB record a ZIP of its parts. */
  addEcg: route({ method: 'POST', path: '/api/cases/{caseId}/ecgs', summary: 'Hand in an ECG record', needs: 'edit-case', params: CASE, query: ECG_ASK, answer: RHYTHM, mostBytes: MOST_RECORDING_BYTES }),
  readRhythm: route({ method: 'GET', path: '/api/cases/{caseId}/rhythm', summary: 'What the signed rhythm rules say', needs: 'read-case', params: CASE, answer: RHYTHM }),

  /** Then upload by tus 1.0 to /api/uploads with metadata importId and path; then finish. */
  startImport: route({ method: 'POST', path: '/api/cases/{caseId}/imports', summary: 'Begin to hand in a scan', needs: 'edit-case', params: CASE, body: z.strictObject({ files: z.number().int().min(1).max(50000), bytes: z.number().int().min(1).max(4 * 1024 ** 3) }), answer: JOB }),
  finishImport: route({ method: 'POST', path: '/api/jobs/{jobId}/received', summary: 'All files of an import have arrived', needs: 'edit-case', params: z.strictObject({ jobId: ID }), body: z.strictObject({ acceptIdentityBecause: shortText(400).min(3).nullable() }), answer: JOB }),
  readJob: route({ method: 'GET', path: '/api/jobs/{jobId}', summary: 'A job', needs: 'session', params: z.strictObject({ jobId: ID }), answer: JOB }),
  cancelJob: route({ method: 'POST', path: '/api/jobs/{jobId}/cancel', summary: 'Stop a job', needs: 'edit-case', params: z.strictObject({ jobId: ID }), body: NOTHING, answer: JOB }),
  retryJob: route({ method: 'POST', path: '/api/jobs/{jobId}/retry', summary: 'Try a failed or cancelled job again', needs: 'edit-case', params: z.strictObject({ jobId: ID }), body: z.strictObject({ acceptIdentityBecause: shortText(400).min(3).nullable() }), answer: JOB }),

  listTables: route({ method: 'GET', path: '/api/tables', summary: 'Device tables, rule sets, rescue cards and rhythm rules', needs: 'session', answer: z.array(z.strictObject({ kind: z.enum(['devices', 'rules', 'rescue', 'rhythm-rules']), sha256: SHA256, hospital: z.string(), signedBy: z.string(), signedAt: z.string(), training: z.boolean(), isSigned: z.boolean() })) }),
  addTable: route({ method: 'POST', path: '/api/tables', summary: 'Hand in a signed device table, rule set, rescue cards or rhythm rules', needs: 'sign-tables', body: z.unknown(), answer: z.strictObject({ sha256: SHA256 }), mostBytes: 2 * 1024 * 1024 }),
  readTable: route({ method: 'GET', path: '/api/tables/{sha256}', summary: 'A device table, a rule set, rescue cards or rhythm rules', needs: 'session', params: z.strictObject({ sha256: SHA256 }), answer: 'bytes' }),
  listAudit: route({ method: 'GET', path: '/api/audit', summary: 'Who read or changed what', needs: 'read-audit', query: z.strictObject({ caseId: ID.optional(), after: z.coerce.number().int().min(0).default(0), limit: z.coerce.number().int().min(1).max(500).default(100) }), answer: z.array(z.unknown()) }),
  readHealth: route({ method: 'GET', path: '/api/health', summary: 'Whether the store answers', needs: 'nobody', answer: z.strictObject({ store: z.enum(['ready', 'unreachable']), version: z.string() }) }),
  readOpenApi: route({ method: 'GET', path: '/api/openapi.json', summary: 'This document', needs: 'nobody', answer: 'bytes' }),
} as const;
export type RouteName = keyof typeof ROUTES;
/** What every refusal looks like: HTTP status beside it. `newer` only with case-changed. */
export const API_ERROR = z.strictObject({ error: z.strictObject({ code: z.string(), text: z.string(), next: z.string() }), newer: EVENTS.optional() });
