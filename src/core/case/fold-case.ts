import type { CaseEvent, CaseEventData, CaseEventKind, HuddleBranch, MarkName, PlannedChoice } from './case-events.ts';
import type { IdentityCheck } from './identity-types.ts';
import type { CameraView } from '../projection/camera-view.ts';
import type { Cusp, Landmarks, Xyz } from '../root/root-types.ts';
import { EMPTY_RESULT, foldResult, type ResultState } from './fold-result.ts';

/** One entered item with who entered it and when; earlier values stay in the log. */
export interface EnteredItem {
  readonly value: string | number | boolean;
  readonly unit: string | null;
  readonly by: string;
  readonly at: string;
  readonly seq: number;
}
/** A mark a person set. */
export interface SetMark {
  readonly lps: Xyz;
  readonly by: string;
  readonly at: string;
  readonly seq: number;
}
/** What a case is now: a fold over its events. */
export interface CaseState {
  readonly caseId: string;
  readonly label: string;
  readonly procedureOn: string | null;
  readonly training: boolean;
  /** Last event; what an edit must name to be taken. 0: no event. */
  readonly seq: number;
  readonly sha256: string;
  /** The newest event that a plan depends on. */
  readonly planInputSeq: number;
  readonly openedAt: string;
  readonly changedAt: string;
  readonly referral: Readonly<Record<string, EnteredItem>>;
  readonly scan: { readonly scanId: string; readonly manifestSha256: string; readonly files: number; readonly bytes: number; readonly identity: IdentityCheck; readonly seriesUid: string | null; readonly seq: number } | null;
  readonly tables: { readonly devicesSha256: string | null; readonly rulesSha256: string | null; readonly rescueSha256?: string | null | undefined; readonly rhythmSha256?: string | null | undefined };
  readonly marks: Readonly<Partial<Record<MarkName, SetMark>>>;
  readonly ring: { readonly contourLps: readonly Xyz[]; readonly by: string; readonly at: string; readonly seq: number } | null;
  /** The newest plan; `isStale` when something it depends on has changed since. */
  readonly plan: { readonly planSha256: string; readonly surveySha256: string | null; readonly seq: number; readonly isStale: boolean } | null;
  /** Why the newest attempt to plan gave none. */
  readonly refusal: { readonly code: string; readonly text: string; readonly next: string; readonly seq: number } | null;
  readonly pins: readonly { readonly pinId: string; readonly choice: PlannedChoice; readonly note: string; readonly by: string; readonly seq: number }[];
  readonly readings: readonly { readonly readingId: string; readonly planSha256: string; readonly landmarksSha256: string | null; readonly by: string; readonly at: string; readonly seq: number }[];
  readonly acceptedDoubts: readonly { readonly code: string; readonly section: string; readonly because: string; readonly by: string; readonly seq: number }[];
  readonly huddle: Readonly<Record<string, Omit<EnteredItem, 'unit'>>>;
  readonly branches: Readonly<Partial<Record<HuddleBranch, { readonly person: string; readonly item: string; readonly place: string; readonly by: string; readonly seq: number }>>>;
  /** The newest comparison of two identifiers at the huddle. */
  readonly identityCheck: { readonly verdict: 'same' | 'differs' | 'not comparable'; readonly by: string; readonly at: string; readonly seq: number } | null;
  readonly overrides: readonly { readonly code: string; readonly because: string; readonly by: string; readonly at: string; readonly seq: number }[];
  /** The newest event that a freeze depends on; an override given before it does not count any more. */
  readonly freezeInputSeq: number;
  /** The frozen plan that acts in the room; `isBehind` when the case has a newer plan or another huddle entry since, or its patient is in question; `isOfAnother` when two identifiers read since do not agree, until they do: nothing of it is shown then (job.md, D32). */
  readonly frozen: { readonly frozenSha256: string; readonly planSha256: string; readonly amends: string | null; readonly differences: readonly string[]; readonly by: string; readonly at: string; readonly seq: number; readonly isBehind: boolean; readonly isOfAnother: boolean } | null;
  readonly runs: readonly { readonly runId: string; readonly blobSha256: string; readonly frames: number; readonly rows: number; readonly columns: number; readonly view: CameraView | null; readonly identity: IdentityCheck; readonly by: string; readonly at: string; readonly seq: number }[];
  /** How many taps the room has logged; their own fold is fold-room.ts. */
  readonly room: { readonly entries: number; readonly lastSeq: number };
  /** Witnesses, grades, decisions and ECGs after release. */
  readonly result: ResultState;
}

/** What the huddle decides on: a frozen plan no longer shows the case after one of these. */
const CHANGES_FROZEN: ReadonlySet<CaseEventKind> = new Set<CaseEventKind>(['plan.made', 'huddle.entered', 'branch.agreed', 'scan.joined', 'mark.moved', 'ring.drawn', 'consensus.set', 'series.chosen', 'tables.chosen']);
/** Events that change what stands in the way of a freeze, beside those that change its plan. */
const CHANGES_BLOCKERS: ReadonlySet<CaseEventKind> = new Set<CaseEventKind>([...CHANGES_FROZEN, 'case.dated', 'plan.refused', 'identity.checked', 'alternative.pinned', 'alternative.unpinned']);
/** Events after which a plan no longer shows the case as it is. */
const CHANGES_PLAN: ReadonlySet<CaseEventKind> = new Set<CaseEventKind>(['scan.joined', 'series.chosen', 'tables.chosen', 'mark.moved', 'ring.drawn', 'consensus.set']);
/** Referral fields that a plan reads (patient.json). */
export const isPlanField = (field: string): boolean => field === 'identity.sex' || field.startsWith('plan.');

/** A case before its first event. */
export function emptyCase(caseId: string): CaseState {
  return {
    caseId, label: '', procedureOn: null, training: false, seq: 0, sha256: '', planInputSeq: 0, openedAt: '', changedAt: '', referral: {}, scan: null,
    tables: { devicesSha256: null, rulesSha256: null }, marks: {}, ring: null, plan: null, refusal: null, pins: [], readings: [], acceptedDoubts: [],
    huddle: {}, branches: {}, identityCheck: null, overrides: [], freezeInputSeq: 0, frozen: null, runs: [], room: { entries: 0, lastSeq: 0 }, result: EMPTY_RESULT,
  };
}

/** Other rescue cards or rhythm rules alone change nothing that a plan reads. */
function areTablesAsBefore({ tables }: CaseState, event: CaseEvent): boolean {
  if (event.kind !== 'tables.chosen') return false;
  const chosen = event.data as CaseEventData['tables.chosen'];
  const isOther = (chosen.rescueSha256 ?? null) !== (tables.rescueSha256 ?? null) || (chosen.rhythmSha256 ?? null) !== (tables.rhythmSha256 ?? null);
  return chosen.devicesSha256 === tables.devicesSha256 && chosen.rulesSha256 === tables.rulesSha256 && isOther;
}

/** State of a case after its events, in their order. */
export function foldCase(caseId: string, events: readonly CaseEvent[]): CaseState {
  return events.reduce(applyEvent, emptyCase(caseId));
}

/** State after one more event. Fails: never; the store takes no event out of order. */
export function applyEvent(state: CaseState, event: CaseEvent): CaseState {
  const next = { ...state, seq: event.seq, sha256: event.sha256, changedAt: event.at, openedAt: state.openedAt || event.at };
  const folded = withData(next, event);
  const field = event.kind === 'referral.entered' ? (event.data as CaseEventData['referral.entered']).field : '';
  const isFreezeChanged = CHANGES_FROZEN.has(event.kind) || field.startsWith('identity.') || (event.kind === 'identity.checked' && (event.data as CaseEventData['identity.checked']).verdict !== 'same');
  const changed = folded.frozen && !folded.frozen.isBehind && isFreezeChanged ? { ...folded, frozen: { ...folded.frozen, isBehind: true } } : folded;
  const staling = (CHANGES_PLAN.has(event.kind) && !areTablesAsBefore(state, event)) || isPlanField(field);
  const isOther = event.kind === 'scan.joined' || field.startsWith('identity.'); // another patient may be meant: the comparison is made again
  const noted = staling || isOther || CHANGES_BLOCKERS.has(event.kind) ? { ...changed, freezeInputSeq: event.seq, ...(isOther ? { identityCheck: null } : {}) } : changed;
  if (!staling) return noted;
  return { ...noted, planInputSeq: event.seq, plan: noted.plan && { ...noted.plan, isStale: true } };
}

function withData(state: CaseState, event: CaseEvent): CaseState {
  const { by, at, seq } = event;
  const is = <K extends CaseEventKind>(kind: K): CaseEventData[K] | null => (event.kind === kind ? (event.data as CaseEventData[K]) : null);
  const opened = is('case.opened');
  if (opened) return { ...state, label: opened.label, procedureOn: opened.procedureOn, training: opened.training };
  const dated = is('case.dated');
  if (dated) return { ...state, procedureOn: dated.procedureOn };
  const entered = is('referral.entered');
  if (entered) {
    const { [entered.field]: _was, ...others } = state.referral;
    return { ...state, referral: entered.value === null ? others : { ...others, [entered.field]: { value: entered.value, unit: entered.unit, by, at, seq } } };
  }
  const scan = is('scan.joined');
  // Marks belong to the frame of reference of the scan they were set on.
  if (scan) return { ...state, scan: { ...scan, seriesUid: null, seq }, marks: {}, ring: null, plan: null, refusal: null, readings: [] };
  const series = is('series.chosen');
  if (series) return state.scan ? { ...state, scan: { ...state.scan, seriesUid: series.seriesUid } } : state;
  const tables = is('tables.chosen');
  if (tables) return { ...state, tables };
  const mark = is('mark.moved');
  if (mark) {
    const { [mark.mark]: _was, ...others } = state.marks;
    return { ...state, marks: mark.lps === null ? others : { ...others, [mark.mark]: { lps: mark.lps, by, at, seq } } };
  }
  const ring = is('ring.drawn');
  if (ring) return { ...state, ring: ring.contourLps === null ? null : { contourLps: ring.contourLps, by, at, seq } };
  const plan = is('plan.made');
  if (plan) return { ...state, plan: { planSha256: plan.planSha256, surveySha256: plan.surveySha256, seq, isStale: plan.basedOnSeq < state.planInputSeq }, refusal: null };
  const refused = is('plan.refused');
  if (refused) return { ...state, refusal: { code: refused.code, text: refused.text, next: refused.next, seq } };
  const pin = is('alternative.pinned');
  if (pin) return { ...state, pins: [...state.pins.filter((p) => p.pinId !== pin.pinId), { ...pin, by, seq }] };
  const unpin = is('alternative.unpinned');
  if (unpin) return { ...state, pins: state.pins.filter((p) => p.pinId !== unpin.pinId) };
  const reading = is('reading.saved');
  if (reading) return { ...state, readings: [...state.readings.filter((r) => r.readingId !== reading.readingId), { ...reading, by, at, seq }] };
  const consensus = is('consensus.set');
  if (consensus) {
    const set = (c: Cusp): SetMark => ({ lps: consensus.nadirsLps[c], by, at, seq });
    return { ...state, marks: { ...state.marks, 'nadir.R': set('R'), 'nadir.L': set('L'), 'nadir.N': set('N') } };
  }
  const doubt = is('doubt.accepted');
  if (doubt) return { ...state, acceptedDoubts: [...state.acceptedDoubts.filter((d) => d.code !== doubt.code || d.section !== doubt.section), { ...doubt, by, seq }] };
  return withRoom(state, event);
}

/** Huddle and room. */
function withRoom(state: CaseState, event: CaseEvent): CaseState {
  const { by, at, seq } = event;
  const is = <K extends CaseEventKind>(kind: K): CaseEventData[K] | null => (event.kind === kind ? (event.data as CaseEventData[K]) : null);
  if (event.kind === 'room.logged') return { ...state, room: { entries: state.room.entries + 1, lastSeq: seq } };
  const entered = is('huddle.entered');
  if (entered) {
    const { [entered.field]: _was, ...others } = state.huddle;
    return { ...state, huddle: entered.value === null ? others : { ...others, [entered.field]: { value: entered.value, by, at, seq } } };
  }
  const agreed = is('branch.agreed');
  if (agreed) {
    const { [agreed.branch]: _was, ...others } = state.branches;
    return { ...state, branches: agreed.plan === null ? others : { ...others, [agreed.branch]: { ...agreed.plan, by, seq } } };
  }
  const identity = is('identity.checked');
  if (identity) {
    const isOfAnother = identity.verdict === 'differs' || (identity.verdict === 'not comparable' && state.frozen?.isOfAnother === true);
    return { ...state, identityCheck: { verdict: identity.verdict, by, at, seq }, frozen: state.frozen && { ...state.frozen, isOfAnother } };
  }
  const override = is('blocker.overridden');
  if (override) return { ...state, overrides: [...state.overrides.filter((o) => o.code !== override.code), { ...override, by, at, seq }] };
  const frozen = is('plan.frozen');
  if (frozen) {
    const { frozenSha256, planSha256, amends, differences } = frozen;
    return { ...state, frozen: { frozenSha256, planSha256, amends, differences, by, at, seq, isBehind: false, isOfAnother: false } };
  }
  const run = is('run.joined');
  if (run) return { ...state, runs: [...state.runs.filter((r) => r.runId !== run.runId), { ...run, by, at, seq }] };
  const result = foldResult(state.result, event);
  return result === state.result ? state : { ...state, result };
}

/**
 * The marks of a case as landmarks.json. The survey takes all three nadirs or none: what a person did not move comes
 * from the plan they looked at.
 */
export function listLandmarks(state: CaseState, planNadirs: Readonly<Record<Cusp, Xyz>> | null, frameOfReferenceUid: string, by: string): Landmarks | null {
  const { marks, ring } = state;
  const hasNadir = Boolean(marks['nadir.R'] ?? marks['nadir.L'] ?? marks['nadir.N']);
  const nadir = (c: Cusp): Xyz | null => marks[`nadir.${c}`]?.lps ?? planNadirs?.[c] ?? null;
  const [R, L, N] = [nadir('R'), nadir('L'), nadir('N')];
  const [left, right] = [marks['ostium.left']?.lps, marks['ostium.right']?.lps];
  const needsNadirs = hasNadir || ring !== null; // a contour lies on a plane that must not move under it
  if (!needsNadirs && !left && !right) return null;
  return {
    format: 'trinadir.landmarks/1', by, frameOfReferenceUid,
    ...(needsNadirs && R && L && N ? { nadirsLps: { R, L, N } } : {}),
    ...(left || right ? { ostiaLps: { ...(left ? { left } : {}), ...(right ? { right } : {}) } } : {}),
    ...(ring ? { contourLps: ring.contourLps } : {}),
  };
}
