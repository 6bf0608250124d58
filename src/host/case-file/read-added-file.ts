import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { listOpenPoints } from '../../core/case/list-open-points.ts';
import type { PatientFacts } from '../../core/device/device-types.ts';
import { makePatientFacts } from '../../core/patient/make-patient-facts.ts';
import { checkEntry, findField } from '../../core/patient/referral-fields.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { checkHuddleEntry } from '../../core/room/huddle-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { ID, PLANNED_CHOICE, shortText } from '../../formats/api/case-schemas.ts';
import { parseDeviceTable } from '../../formats/tables/parse-device-table.ts';
import { parsePatient } from '../../formats/tables/parse-patient.ts';
import { parseRescueCards } from '../../formats/tables/parse-rescue.ts';
import { parseRhythmRules } from '../../formats/tables/parse-rhythm-rules.ts';
import { parseRules } from '../../formats/tables/parse-rules.ts';
import { isChangedAfterSigning } from '../cli/signed-hash.ts';
import { hashText } from '../storage/hash-chain.ts';
import type { AddedFile } from './added-file-types.ts';
import { describeIssue } from './event-schemas.ts';
import { readUpTo } from './open-case-folder.ts';
import { decodeText, parseShallow } from './parse-case.ts';
import { countResultEntries, findResultProblem, listResultEvents, readAddedMeasurement, RESULT_ENTRIES, sealGrade, type AddedBeside, type ResultEntries } from './read-added-result.ts';
import { readCasePlan } from './read-case-documents.ts';

const MOST_FILE_BYTES = 64 << 20;
const PLAN_FILE = 'plan.json';
type Value = string | number | boolean | null;

const value = z.union([shortText(400), z.number(), z.boolean(), z.null()]);
const entries = z.record(z.string().regex(/^[a-zA-Z][a-zA-Z0-9.-]{1,60}$/), value);
const BRANCH = z.strictObject({ person: shortText(80).min(1), item: shortText(120).min(1), place: shortText(120).min(1) }).nullable();
/** trinadir.entries/1: what a person enters into a case, in one file (docs/case-file.md). */
const ENTRIES = z.strictObject({
  format: z.literal('trinadir.entries/1'),
  procedureOn: z.iso.date().nullable().optional(),
  referral: entries.optional(),
  huddle: entries.optional(),
  branches: z.strictObject({ 'moved-up': BRANCH.optional(), 'moved-down': BRANCH.optional(), leaks: BRANCH.optional() }).optional(),
  doubts: z.array(z.strictObject({ section: shortText(40).min(1), code: shortText(80).min(1), because: shortText(400).min(3) })).max(200).optional(),
  pins: z.array(z.strictObject({ pinId: ID, choice: PLANNED_CHOICE, note: shortText(200) })).max(20).optional(),
  ...RESULT_ENTRIES,
});

/**
 * A file for `case add`, by its own `format`; with what is said beside it a recording of pressures, an ECG record, a run with
 * contrast, or the report of an echo. A folder stands for the plan.json in it.
 * Fails     file-unreadable, file-not-json, file-other-format, table-changed, table-not-signed, entries-invalid, entries-empty,
 *           and as the parser of its format and readAddedMeasurement
 */
export async function readAddedFile(path: string, beside: AddedBeside = {}): Promise<Result<AddedFile, string>> {
  const isFolder = await stat(path).then((found) => found.isDirectory(), () => false);
  const bytes = await readUpTo(isFolder ? join(path, PLAN_FILE) : path, MOST_FILE_BYTES);
  if (!bytes) return fail('file-unreadable', CASE_FILE_EN.fileUnreadable, CASE_FILE_EN.fileUnreadableNext);
  if (!isFolder && isMeasurement(beside)) return readAddedMeasurement(path, bytes, beside);
  const text = decodeText(bytes);
  const content = text === null ? undefined : parseShallow(text);
  if (text === null || content === undefined) return fail('file-not-json', CASE_FILE_EN.fileNotJson, CASE_FILE_EN.fileNotJsonNext);
  const format = content !== null && typeof content === 'object' ? (content as { format?: unknown }).format : undefined;
  switch (format) {
    case 'trinadir.plan/1': return readPlanFile(text);
    case 'trinadir.devices/1': return readTableFile('devices', text, content);
    case 'trinadir.rules/1': return readTableFile('rules', text, content);
    case 'trinadir.rescue/1': return readTableFile('rescue', text, content);
    case 'trinadir.rhythm-rules/1': return readTableFile('rhythm', text, content);
    case 'trinadir.patient/1': return readPatientFile(content);
    case 'trinadir.entries/1': return readEntriesFile(content);
    default: return fail('file-other-format', CASE_FILE_EN.fileOther, CASE_FILE_EN.fileOtherNext);
  }
}

const isMeasurement = ({ moment, echo, ecg, angiogram }: AddedBeside): boolean => moment !== undefined || echo !== undefined || ecg !== undefined || angiogram === true;

function readPlanFile(text: string): Result<AddedFile, string> {
  const parsed = readCasePlan(text);
  if (!parsed.ok) return parsed;
  const plan = parsed.value;
  return succeed({
    what: 'plan', document: text,
    listEvents(state) {
      const { devicesSha256 = null, rulesSha256 = null } = plan.inputs;
      const other = state.tables.devicesSha256 !== null && state.tables.devicesSha256 !== devicesSha256 ? 'device table'
        : state.tables.rulesSha256 !== null && state.tables.rulesSha256 !== rulesSha256 ? 'rules'
        : isSamePatient(makePatientFacts(state.referral, ''), plan.patient ?? null) ? null : 'patient values';
      if (other !== null) return fail('case-plan-differs', formatText(CASE_FILE_EN, 'planTables', { what: other }), formatText(CASE_FILE_EN, 'planTablesNext', { what: other }), { what: other });
      const planSha256 = hashText(text);
      if (state.plan?.planSha256 === planSha256 && !state.plan.isStale) return succeed([]);
      return succeed([{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: state.seq } }]);
    },
  });
}

/** What the case says of the patient is what the plan was made with; a case that says nothing contradicts nothing. */
function isSamePatient(ofCase: PatientFacts | null, ofPlan: PatientFacts | null): boolean {
  if (ofCase === null) return true;
  const facts = ({ format: _format, by: _by, ...rest }: Partial<PatientFacts>): string => JSON.stringify(Object.entries(rest).filter(([, v]) => v !== undefined).sort(([a], [b]) => (a < b ? -1 : 1)));
  return facts(ofCase) === facts(ofPlan ?? {});
}

const TABLE_PARSERS = { devices: parseDeviceTable, rules: parseRules, rescue: parseRescueCards, rhythm: parseRhythmRules } as const;
function readTableFile(kind: keyof typeof TABLE_PARSERS, text: string, content: unknown): Result<AddedFile, string> {
  const parsed: Result<{ readonly signedBy: string }, string> = TABLE_PARSERS[kind](content);
  if (!parsed.ok) return parsed;
  if (isChangedAfterSigning(content)) return fail('table-changed', CASE_FILE_EN.tableChanged, CASE_FILE_EN.tableChangedNext);
  if (parsed.value.signedBy.trim() === '') return fail('table-not-signed', CASE_FILE_EN.tableUnsigned, CASE_FILE_EN.tableUnsignedNext);
  return succeed({
    what: kind === 'rhythm' ? 'rhythm rules' : kind, document: text,
    listEvents({ tables }) {
      const field = `${kind}Sha256` as const;
      const chosen = { ...tables, [field]: hashText(text) };
      return succeed(tables[field] === chosen[field] ? [] : [{ kind: 'tables.chosen', data: chosen }]);
    },
  });
}

function readPatientFile(content: unknown): Result<AddedFile, string> {
  const parsed = parsePatient(content);
  if (!parsed.ok) return parsed;
  const p = parsed.value;
  const length = (id: string, of: PatientFacts['mitralClearanceMm']): Record<string, Value> => (of ? { [`${id}Mm`]: of.value, [`${id}HalfWidthMm`]: of.halfWidth95 } : {});
  const plain = { 'identity.sex': p.sex, 'plan.valveForm': p.valveForm, 'plan.isPureRegurgitation': p.isPureRegurgitation, 'plan.pacingPerMin': p.pacingPerMin, 'plan.isPredilated': p.isPredilated, 'plan.catheterTension': p.catheterTension };
  const referral: Record<string, Value> = {
    ...Object.fromEntries(Object.entries(plain).flatMap(([id, v]): [string, Value][] => (v === undefined ? [] : [[id, v]]))),
    ...length('plan.membranousSeptum', p.membranousSeptumMm), ...length('plan.mitralClearance', p.mitralClearanceMm),
    ...length('plan.vesselRight', p.vesselMinMm?.right), ...length('plan.vesselLeft', p.vesselMinMm?.left),
  };
  const problem = findEntryProblem(referral, checkEntry);
  if (problem) return failEntries(`referral.${problem.id}`, problem.problem);
  return Object.keys(referral).length === 0 ? failEmpty() : succeed({ what: 'patient values', document: null, listEvents: (state) => succeed(listReferral(referral, state)) });
}

function readEntriesFile(content: unknown): Result<AddedFile, string> {
  const parsed = ENTRIES.safeParse(content);
  if (!parsed.success) {
    const { field, problem } = describeIssue(parsed.error);
    // A key of a record is what was typed: a name may have been put in its place.
    return failEntries(field.split('.').slice(0, 1).join('.'), problem);
  }
  const { procedureOn, referral = {}, huddle = {}, branches = {}, doubts = [], pins = [] } = parsed.data;
  const ofResult: ResultEntries = parsed.data;
  const wrong = findEntryProblem(referral, checkEntry) ?? findEntryProblem(huddle, checkHuddleEntry) ?? findResultProblem(ofResult);
  if (wrong) return failEntries(wrong.id, wrong.problem);
  const parts = [procedureOn === undefined ? 0 : 1, Object.keys(referral).length, Object.keys(huddle).length, Object.keys(branches).length, doubts.length, pins.length, countResultEntries(ofResult)];
  if (parts.every((n) => n === 0)) return failEmpty();
  const sealed = sealGrade(ofResult);
  return succeed({
    what: 'entries', document: sealed,
    listEvents(state, plan) {
      const open = plan ? listOpenPoints(plan) : [];
      const unknown = doubts.find((d) => !open.some((p) => p.section === d.section && p.code === d.code));
      if (unknown) return fail('entries-doubt-unknown', CASE_FILE_EN.doubtUnknown, CASE_FILE_EN.doubtUnknownNext);
      const result = listResultEvents(ofResult, state, sealed);
      if (!result.ok) return result;
      return succeed([
        ...(procedureOn === undefined || procedureOn === state.procedureOn ? [] : [{ kind: 'case.dated', data: { procedureOn } } as const]),
        ...listReferral(referral, state),
        ...pins.filter((pin) => !state.pins.some((p) => p.pinId === pin.pinId && JSON.stringify([p.choice, p.note]) === JSON.stringify([pin.choice, pin.note]))).map((data): NewCaseEvent => ({ kind: 'alternative.pinned', data })),
        ...Object.entries(huddle).filter(([field, v]) => (state.huddle[field]?.value ?? null) !== v).map(([field, v]): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value: v } })),
        ...Object.entries(branches).map(([branch, agreed]): NewCaseEvent => ({ kind: 'branch.agreed', data: { branch: branch as 'leaks', plan: agreed ?? null } })),
        ...doubts.map((data): NewCaseEvent => ({ kind: 'doubt.accepted', data })),
        ...result.value,
      ]);
    },
  });
}

const failEntries = (field: string, problem: string) => fail('entries-invalid' as const, formatText(CASE_FILE_EN, 'entriesWrong', { field, problem }), CASE_FILE_EN.entriesWrongNext, { field, problem });
const failEmpty = () => fail('entries-empty' as const, CASE_FILE_EN.entriesEmpty, CASE_FILE_EN.entriesEmptyNext);

function findEntryProblem(given: Readonly<Record<string, Value>>, checkOne: (id: string, v: Value) => string | null): { readonly id: string; readonly problem: string } | null {
  for (const [id, v] of Object.entries(given)) {
    const problem = checkOne(id, v);
    // An id that is not known is what was typed, and is not repeated.
    if (problem !== null) return { id: problem === 'field-unknown' ? 'one of its fields' : id, problem };
  }
  return null;
}

/** Only what changes something becomes an event. */
function listReferral(given: Readonly<Record<string, Value>>, { referral }: CaseState): readonly NewCaseEvent[] {
  return Object.entries(given).filter(([field, v]) => (referral[field]?.value ?? null) !== v).map(([field, v]): NewCaseEvent => {
    const about = findField(field);
    return { kind: 'referral.entered', data: { field, value: v, unit: v !== null && about?.kind === 'number' ? about.unit : null } };
  });
}
