import { useEffect, useState } from 'preact/hooks';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { listUndo, makeUndo } from '../../core/case/undo-edits.ts';
import { callApi } from '../api/call-api.ts';

/** Events of a case up to its newest, read as they come. */
export function useEvents(caseId: string, seq: number): readonly CaseEvent[] {
  const [read, setRead] = useState<{ readonly caseId: string; readonly events: readonly CaseEvent[] }>({ caseId, events: [] });
  const events = read.caseId === caseId ? read.events : [];
  const have = events.at(-1)?.seq ?? 0;
  useEffect(() => {
    if (seq <= have) return;
    let isWanted = true;
    void callApi('listEvents', { params: { caseId }, query: { after: have } }).then((answer) => {
      if (!isWanted || !answer.ok) return;
      const newer = answer.value.filter((e) => e.seq > have);
      if (newer.length > 0) setRead({ caseId, events: [...events, ...newer] });
    });
    return () => void (isWanted = false);
  }, [caseId, seq, have]);
  return events;
}

export interface UndoOffer {
  /** Empty: nothing to take back. */
  readonly undo: readonly NewCaseEvent[];
  readonly redo: readonly NewCaseEvent[];
}
/** What this person may undo and redo now; nothing while the log is behind the state. */
export function offerUndo(caseId: string, events: readonly CaseEvent[], state: CaseState, personId: string | null): UndoOffer {
  if (personId === null || (events.at(-1)?.seq ?? 0) !== state.seq) return { undo: [], redo: [] };
  const { undoable, redoable } = listUndo(caseId, events, personId);
  return { undo: makeUndo(undoable.at(-1), state), redo: makeUndo(redoable.at(-1), state) };
}
