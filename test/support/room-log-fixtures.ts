import { CHAIN_START, hashEvent } from '../../src/host/storage/hash-chain.ts';
import type { CaseEvent, NewCaseEvent } from '../../src/core/case/case-events.ts';
import { foldCase, type CaseState } from '../../src/core/case/fold-case.ts';
import { makeLogDocument, type LogDocument } from '../../src/core/room/log-document.ts';
import type { FrozenDocument } from '../../src/core/room/frozen-types.ts';
import type { RoomEntry, RoomRecord } from '../../src/core/room/room-types.ts';
import { CAUSE_CODES } from '../../src/core/room/room-types.ts';
import { depthEntry, makeLog } from './room-log.ts';

/** One entry of every kind, and of those with gaps one with and one without. */
export const EVERY_ENTRY: readonly RoomEntry[] = [
  { is: 'phase', phase: 'identity' }, { is: 'pacing', isOn: true, ratePerMin: 120 }, { is: 'pacing', isOn: false, ratePerMin: null }, { is: 'view', view: { primaryDeg: -12.5, secondaryDeg: 20 } },
  { is: 'phase', phase: 'position' }, depthEntry(4), { is: 'hold', hold: 'A', answer: 'go on', who: 'first operator' }, { is: 'phase', phase: 'releasing' }, { is: 'fraction', ratio: 0.6 }, { is: 'fraction', ratio: null },
  { is: 'moved', direction: 'up', mm: 3.2 }, { is: 'moved', direction: 'unknown', mm: null }, { is: 'causes', closedAs: [CAUSE_CODES[0]!, CAUSE_CODES[4]!], because: 'seen', who: 'the team' }, { is: 'causes', closedAs: [], because: '', who: 'the team' },
  { is: 'recaptured', isWhole: true }, { is: 'valve-out', inspected: true, replaced: false }, { is: 'kit', item: 'spare', isReady: true }, { is: 'wire', did: 'moved', side: 'outer curve' }, { is: 'wire', did: 'exchanged', side: null },
  { is: 'tension', tension: 'pulling' }, { is: 'dilated', balloonMm: 22, when: 'before' }, { is: 'dilated', balloonMm: null, when: 'after' }, { is: 'heparin', units: 5000 }, { is: 'act', seconds: 262 }, { is: 'contrast', ml: 12.5 },
  { is: 'radiation', airKermaMGy: 310, doseAreaGyCm2: null, fluoroscopyMin: 7.4 }, { is: 'pressure', systolicMmHg: 118, diastolicMmHg: 64, endDiastolicMmHg: null, heartRatePerMin: 71 },
  { is: 'rescue', card: 'tamponade', did: 'opened', line: null }, { is: 'rescue', card: 'tamponade', did: 'ticked', line: 0 }, { is: 'clock', name: 'recorder', aheadS: 37 }, { is: 'show', card: 'depth' }, { is: 'show', card: null },
  {
    is: 'verdict', answerSha256: 'ab'.repeat(32), word: 'NOT SETTLED', side: null, witnesses: [{ kind: 'pressure', low: 1, high: 2.5 }, { kind: 'echo', low: null, high: null }],
    remedies: [{ code: 'wait', state: 'open', detail: '' }, { code: 'post-dilate', state: 'cannot say', detail: 'Not known: leak above the line.' }], waitUntil: '2026-03-02T10:20:00.000Z', next: 'One aortogram.',
  },
  { is: 'screen', wall: 'A1', barMm: 200.5 }, { is: 'note', text: 'Wire "stiff", kept; <left> & checked' }, { is: 'phase', phase: 'released' }, { is: 'phase', phase: 'handover' },
];

/** A case whose room logged these, as events of its chain. */
export function makeLoggedCase(records: readonly RoomRecord[]): { readonly state: CaseState; readonly events: readonly CaseEvent<'room.logged'>[] } {
  const caseId = 'logged-case';
  let [prevSha256, seq] = [CHAIN_START, 0];
  const link = (event: NewCaseEvent, at: string): CaseEvent => {
    const open = { caseId, seq: ++seq, at, by: 'person-one', kind: event.kind, data: event.data, supersedes: null, prevSha256 };
    prevSha256 = hashEvent(open);
    return { ...open, sha256: prevSha256 };
  };
  const all = [link({ kind: 'case.opened', data: { label: 'Training A 7', procedureOn: '2026-03-02', training: true } }, '2026-03-02T08:00:00.000Z'), ...records.map((data) => link({ kind: 'room.logged', data }, '2026-03-02T11:00:00.000Z'))];
  return { state: foldCase(caseId, all), events: all.slice(1) as CaseEvent<'room.logged'>[] };
}
export function makeLogFixture(records: readonly RoomRecord[] = makeLog(EVERY_ENTRY), frozen: FrozenDocument | null = null): LogDocument {
  const { state, events } = makeLoggedCase(records);
  return makeLogDocument(state, events, frozen, { nameOf: () => 'Colleague One', nameCard: (id) => (id === 'tamponade' ? 'Tamponade' : id) }, 'trinadir test');
}
