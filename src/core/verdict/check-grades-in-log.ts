import type { CaseEvent, CaseEventData } from '../case/case-events.ts';
import { foldRoom } from '../room/fold-room.ts';
import { findRoundStart } from './compose-verdict.ts';
import { checkOwnGradeFirst, type OwnGrade } from './own-grade-first.ts';
import { readVerdictClock } from './read-verdict-clock.ts';

/** An answer that was shown, as its event and its document have it. */
export interface ShownAnswer {
  readonly seq: number;
  /** The last event that the answer had seen, by its document; null: the document does not say. */
  readonly basedOnSeq: number | null;
}
export interface GradeBreach {
  /** Of the event that showed too early. */
  readonly seq: number;
  readonly text: string;
}

/**
 * Own grade first, proved from the log alone (job.md, E11): who was shown the verdict, or others' grades, before their own overall
 * grade of that round was stored, and which verdict was shown before a reader who was present had stored theirs. The order is that
 * of the log. A round begins with the release or manoeuvre that the answer had seen: one that was logged while it was on its way
 * cannot have been known. Between an answer and its event nothing but taps of the room may stand, else the event's own place counts.
 * Fails    never; empty: the order holds
 */
export function checkGradesInLog(events: readonly CaseEvent[], shown: readonly ShownAnswer[]): readonly GradeBreach[] {
  const based = new Map(shown.map((s) => [s.seq, s.basedOnSeq]));
  return events.flatMap((event): readonly GradeBreach[] => {
    if (event.kind !== 'verdict.shown') return [];
    const { what } = event.data as CaseEventData['verdict.shown'];
    const before = events.filter((e) => e.seq < event.seq);
    const said = based.get(event.seq) ?? null;
    const isWhole = said !== null && before.every((e) => e.seq <= said || e.kind === 'room.logged');
    const records = before.flatMap((e) => (e.kind === 'room.logged' && (!isWhole || e.seq <= said) ? [{ ...(e.data as CaseEventData['room.logged']), by: e.by, seq: e.seq }] : []));
    const sinceAt = findRoundStart(readVerdictClock(foldRoom(records), event.at));
    const grades = before.flatMap((e): readonly OwnGrade[] => (e.kind === 'grade.sealed' && (e.data as CaseEventData['grade.sealed']).of === 'overall' ? [{ by: e.by, at: e.at, seq: e.seq, interval: [0, 4], kind: null }] : []));
    const present = before.reduce<readonly string[]>((last, e) => (e.kind === 'readers.present' ? (e.data as CaseEventData['readers.present']).personIds : last), []);
    const breaches = checkOwnGradeFirst([...new Set(present)], grades, [{ to: event.by, at: event.at, what: what === 'verdict' ? 'verdict' : 'grade', seq: event.seq }], sinceAt);
    return [...breaches, ...(what === 'verdict' && present.length === 0 ? [`the verdict was shown at ${event.at} although nobody was said to be present`] : [])].map((text) => ({ seq: event.seq, text }));
  });
}
