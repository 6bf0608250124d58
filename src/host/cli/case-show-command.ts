import type { CaseState } from '../../core/case/fold-case.ts';
import { listMissing } from '../../core/case/list-missing.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { Failure } from '../../core/result.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { OpenedCase } from '../case-file/case-file-types.ts';
import { listNamedDocuments } from '../case-file/list-named-documents.ts';
import { openCase } from '../case-file/open-case.ts';
import type { StoredPlace } from '../case-file/open-stored-case.ts';
import { readNewestPlan } from './case-add-command.ts';
import { answer, refuse, tellNotes, type CaseOptions } from './case-command-parts.ts';
import type { CommandIo } from './command-io.ts';

export interface CaseShowOptions extends CaseOptions, StoredPlace {
  readonly named: string;
}

/** `trinadir case show CASE`: what the case is now. The patient's identity is never printed; which of its fields were entered is. */
export async function runCaseShowCommand(options: CaseShowOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>): number => refuse(failure, 'case show', options, io);
  const opened = await openCase(options.named, options);
  if (!opened.ok) return stop(opened.failure);
  try {
    const noted = await opened.value.note('case.read', {});
    if (!noted.ok) return stop(noted.failure);
    const plan = await readNewestPlan(opened.value, opened.value.state.plan?.planSha256 ?? null);
    if (!plan.ok) return stop(plan.failure);
    tellNotes(opened.value.notes, options, io);
    const room = foldRoom(listRecords(opened.value));
    const documents = new Set(await opened.value.listDocuments());
    const json = {
      ...describeCase(opened.value, plan.value), room,
      documents: listNamedDocuments(opened.value.events).map(({ sha256, kind }) => ({ kind, sha256, isThere: documents.has(sha256) })),
      notes: opened.value.notes, caution: HOUSE_EN.caution,
    };
    return answer(json, writeLines(opened.value, plan.value, room).join('\n'), options, io);
  } finally {
    await opened.value.close();
  }
}

/** Records of the room as the log holds them, with who and where. */
export function listRecords({ events, nameOf }: Pick<OpenedCase, 'events' | 'nameOf'>): readonly (RoomRecord & { readonly by: string; readonly seq: number })[] {
  return events.flatMap((e) => (e.kind === 'room.logged' ? [{ ...(e.data as RoomRecord), by: nameOf(e.by), seq: e.seq }] : []));
}

const isOfIdentity = (field: string): boolean => field.startsWith('identity.');
/** Names of the identity's fields that were entered, without what stands in them. */
export const listIdentityFields = ({ referral }: CaseState): readonly string[] => Object.keys(referral).filter(isOfIdentity).map((field) => field.slice('identity.'.length)).sort();

function describeCase({ where, state }: OpenedCase, plan: Plan | null): object {
  const { referral, ...rest } = state;
  return {
    format: 'trinadir.case-answer/1', where, ...rest, referral: Object.fromEntries(Object.entries(referral).filter(([field]) => !isOfIdentity(field))),
    identityFields: listIdentityFields(state), missing: listMissing(state, plan),
    size: plan?.size?.answer ?? null, landing: plan?.landing ? { startMm: plan.landing.startMm, aimLowMm: plan.landing.aimLowMm, aimHighMm: plan.landing.aimHighMm, stopMm: plan.landing.stopMm, empty: plan.landing.empty } : null,
    release: plan?.release ? { startMm: plan.release.startMm, answer: plan.release.answer } : null,
  };
}

function writeLines({ where, state, nameOf }: OpenedCase, plan: Plan | null, room: RoomState): readonly string[] {
  const t = CASE_FILE_EN;
  const missing = listMissing(state, plan);
  const identity = listIdentityFields(state);
  const { frozen } = state;
  const holes = room.holes.reduce((sum, h) => sum + h.missing.length, 0);
  const isTraining = state.training || plan?.training === true;
  return [
    formatText(t, 'showCase', { label: state.label, where, training: isTraining ? t.training : t.notTraining }),
    formatText(t, 'showAt', { seq: state.seq, at: state.changedAt, hash: state.sha256 }),
    ...(state.procedureOn === null ? [] : [formatText(t, 'showDate', { date: state.procedureOn })]),
    identity.length > 0 ? formatText(t, 'showIdentity', { fields: identity.join(', ') }) : t.showNoIdentity,
    missing.length > 0 ? formatText(t, 'showMissing', { missing: missing.join(', ') }) : t.showNothingMissing,
    state.plan ? formatText(t, 'showPlan', { hash: state.plan.planSha256.slice(0, 8), stale: state.plan.isStale ? t.showStale : '', answer: describePlan(plan) }) : t.showNoPlan,
    formatText(t, 'showHuddle', { count: Object.keys(state.huddle).length, branches: Object.keys(state.branches).length }),
    frozen ? formatText(t, 'showFrozen', { short: frozen.frozenSha256.slice(0, 8), by: nameOf(frozen.by), at: frozen.at, behind: frozen.isBehind ? t.showBehind : '' }) : t.showNotFrozen,
    state.room.entries === 0 ? t.showNoRoom : formatText(t, 'showRoom', {
      entries: room.records.length, phase: room.phase?.phase ?? '-', attempts: room.attempts.length, recaptures: room.recaptures, depth: describeDepth(room),
    }),
    ...(holes > 0 ? [formatText(t, 'showHoles', { count: holes, pages: room.holes.length })] : []),
    HOUSE_EN.caution,
  ];
}

function describePlan(plan: Plan | null): string {
  const t = CASE_FILE_EN;
  const size = plan?.size?.answer;
  const window = plan?.landing;
  const mm = (v: number | null): string => (v === null ? '-' : v.toFixed(1));
  return [
    size ? formatText(t, 'showSize', { device: size.device, size: size.size }) : t.showNoSize,
    window && !window.empty ? formatText(t, 'showWindow', { start: mm(window.startMm), low: mm(window.aimLowMm), high: mm(window.aimHighMm), stop: mm(window.stopMm) }) : t.showNoWindow,
  ].join('; ');
}

function describeDepth({ depth }: RoomState): string {
  if (!depth) return '-';
  const { depthMm, lowMm, highMm } = depth.reading;
  return formatText(CASE_FILE_EN, 'showDepth', { depth: depthMm.toFixed(1), low: lowMm.toFixed(1), high: highMm.toFixed(1) });
}
