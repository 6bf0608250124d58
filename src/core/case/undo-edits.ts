import type { CaseEvent, CaseEventData, CaseEventKind, MarkName, NewCaseEvent } from './case-events.ts';
import { applyEvent, emptyCase, type CaseState } from './fold-case.ts';
import { CUSPS, type Xyz } from '../root/root-types.ts';

/** What a person may take back: moves of marks, a ring by hand, a consensus. */
const EDITS: ReadonlySet<CaseEventKind> = new Set<CaseEventKind>(['mark.moved', 'ring.drawn', 'consensus.set']);

/** One step back or forth. A consensus is taken back by three moves, which belong together. */
export interface Edit {
  readonly events: readonly CaseEvent[];
  /** Marks and ring before it. */
  readonly before: Pick<CaseState, 'marks' | 'ring'>;
  /** Events that it takes back; empty for an edit of its own. */
  readonly of: readonly number[];
}
export interface UndoStacks {
  /** Newest last. */
  readonly undoable: readonly Edit[];
  readonly redoable: readonly Edit[];
}

/**
 * What one person can undo and redo on a case, read from its events alone: undoing is an event too. An event undoes
 * another when it names it as superseded and sets back what stood before; redoing is undoing the undo.
 *
 * - Only one's own edits: nobody takes back a colleague's.
 * - An edit that someone changed over since cannot be undone: it would wipe out theirs.
 * - A new edit of the person empties what they could redo.
 * - A new scan empties both: marks belong to its frame of reference.
 */
export function listUndo(caseId: string, events: readonly CaseEvent[], personId: string): UndoStacks {
  let state = emptyCase(caseId);
  let undoable: readonly Edit[] = [];
  let redoable: readonly Edit[] = [];
  for (const event of events) {
    const was = state;
    state = applyEvent(state, event);
    if (event.kind === 'scan.joined') {
      undoable = [];
      redoable = [];
    }
    if (!EDITS.has(event.kind)) continue;
    if (event.by !== personId) {
      // Theirs stands on top of mine where both touch the same thing.
      const touched = listTouched(event);
      const isFree = (edit: Edit): boolean => !edit.events.some((e) => listTouched(e).some((t) => touched.includes(t)));
      undoable = undoable.filter(isFree);
      redoable = redoable.filter(isFree);
      continue;
    }
    const takesBack = (edit: Edit | undefined): edit is Edit => Boolean(edit && edit.events.some((e) => e.seq === event.supersedes) && setsBack(was, event, edit.before));
    const step: Edit = { events: [event], before: { marks: was.marks, ring: was.ring }, of: [] };
    if (continues(redoable.at(-1), event)) redoable = [...redoable.slice(0, -1), joinEdit(redoable.at(-1)!, event)];
    else if (continues(undoable.at(-1), event)) undoable = [...undoable.slice(0, -1), joinEdit(undoable.at(-1)!, event)];
    else if (takesBack(undoable.at(-1))) {
      redoable = [...redoable, { ...step, of: undoable.at(-1)!.events.map((e) => e.seq) }];
      undoable = undoable.slice(0, -1);
    } else if (takesBack(redoable.at(-1))) {
      undoable = [...undoable, { ...step, of: redoable.at(-1)!.events.map((e) => e.seq) }];
      redoable = redoable.slice(0, -1);
    } else {
      undoable = [...undoable, step];
      redoable = [];
    }
  }
  return { undoable, redoable };
}

/** Events that take back an edit of `listUndo`, made for the state as it is now. Empty when there is none. */
export function makeUndo(edit: Edit | undefined, now: CaseState): readonly NewCaseEvent[] {
  if (!edit) return [];
  return edit.events.flatMap((event): readonly NewCaseEvent[] => listTouched(event).map((name) => (name === 'ring'
    ? { kind: 'ring.drawn', data: { contourLps: edit.before.ring?.contourLps ?? null }, supersedes: event.seq }
    : { kind: 'mark.moved', data: { mark: name, lps: edit.before.marks[name]?.lps ?? null, was: now.marks[name]?.lps ?? null }, supersedes: event.seq })));
}

/** Further event of the same step: it takes back another part of what the step takes back. */
function continues(edit: Edit | undefined, event: CaseEvent): boolean {
  if (!edit || event.supersedes === null || !edit.of.includes(event.supersedes)) return false;
  return edit.events.at(-1)!.seq === event.seq - 1 && !edit.events.some((e) => listTouched(e).some((t) => listTouched(event).includes(t)));
}
const joinEdit = (edit: Edit, event: CaseEvent): Edit => ({ ...edit, events: [...edit.events, event] });

type Touched = MarkName | 'ring';
function listTouched(event: CaseEvent): readonly Touched[] {
  if (event.kind === 'ring.drawn') return ['ring'];
  if (event.kind === 'consensus.set') return CUSPS.map((c) => `nadir.${c}` as const);
  return [(event.data as CaseEventData['mark.moved']).mark];
}

function setsBack(state: CaseState, event: CaseEvent, before: Edit['before']): boolean {
  const after = applyEvent(state, event);
  return listTouched(event).every((name) => (name === 'ring'
    ? isSameRing(after.ring?.contourLps ?? null, before.ring?.contourLps ?? null)
    : isSamePoint(after.marks[name]?.lps ?? null, before.marks[name]?.lps ?? null)));
}
const isSamePoint = (a: Xyz | null, b: Xyz | null): boolean => (a === null || b === null ? a === b : a.every((v, i) => v === b[i]));
const isSameRing = (a: readonly Xyz[] | null, b: readonly Xyz[] | null): boolean =>
  a === null || b === null ? a === b : a.length === b.length && a.every((p, i) => isSamePoint(p, b[i]!));
