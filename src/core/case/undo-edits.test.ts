import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import type { CaseEvent, MarkName, NewCaseEvent } from './case-events.ts';
import { foldCase, type CaseState } from './fold-case.ts';
import { listUndo, makeUndo } from './undo-edits.ts';
import type { Xyz } from '../root/root-types.ts';

const CASE = 'case-0001';
/** A log that people write on; hashes do not matter here. */
function openLog() {
  const events: CaseEvent[] = [];
  const state = (): CaseState => foldCase(CASE, events);
  const add = (by: string, ...added: readonly NewCaseEvent[]): void => {
    for (const e of added) events.push({ caseId: CASE, seq: events.length + 1, at: '2026-03-02T08:11:00.000Z', by, kind: e.kind, data: e.data, supersedes: e.supersedes ?? null, prevSha256: '', sha256: '' });
  };
  const stacks = (by: string) => listUndo(CASE, events, by);
  return {
    add, state, stacks,
    move: (by: string, mark: MarkName, lps: Xyz | null) => add(by, { kind: 'mark.moved', data: { mark, lps, was: state().marks[mark]?.lps ?? null } }),
    undo: (by: string) => add(by, ...makeUndo(stacks(by).undoable.at(-1), state())),
    redo: (by: string) => add(by, ...makeUndo(stacks(by).redoable.at(-1), state())),
    where: (mark: MarkName) => state().marks[mark]?.lps ?? null,
    length: () => events.length,
  };
}
const A: Xyz = [1, 2, 3];
const B: Xyz = [4, 5, 6];
const consensus: NewCaseEvent = { kind: 'consensus.set', data: { fromReadings: ['reading-a', 'reading-b'], nadirsLps: { R: [7, 0, 0], L: [0, 7, 0], N: [0, 0, 7] } } };
const ring = (z: number): NewCaseEvent => ({ kind: 'ring.drawn', data: { contourLps: Array.from({ length: 8 }, (_, i): Xyz => [Math.cos(i), Math.sin(i), z]) } });
/** Marks and ring without who and when. */
const look = (s: CaseState) => ({ marks: Object.fromEntries(Object.entries(s.marks).map(([k, m]) => [k, m.lps])), ring: s.ring?.contourLps ?? null });

describe(`listUndo and makeUndo (seed ${seed})`, () => {
  test('the first move taken back gives the mark back to the tool', () => {
    const log = openLog();
    log.move('ann', 'nadir.R', A);
    log.undo('ann');
    expect(log.where('nadir.R')).toBeNull();
    log.redo('ann');
    expect(log.where('nadir.R')).toEqual(A);
    expect(log.length()).toBe(3); // nothing was removed
  });
  test('steps go back one after another and forth again, over marks and ring', () => {
    const log = openLog();
    const seen = [look(log.state())];
    for (const step of [() => log.move('ann', 'nadir.R', A), () => log.move('ann', 'ostium.left', B), () => log.add('ann', ring(1)), () => log.move('ann', 'nadir.R', B), () => log.move('ann', 'nadir.R', null), () => log.add('ann', consensus)]) {
      step();
      seen.push(look(log.state()));
    }
    for (let i = seen.length - 2; i >= 0; i--) {
      log.undo('ann');
      expect(look(log.state())).toEqual(seen[i]);
    }
    expect(log.stacks('ann').undoable).toHaveLength(0);
    for (let i = 1; i < seen.length; i++) {
      log.redo('ann');
      expect(look(log.state())).toEqual(seen[i]);
    }
    expect(log.stacks('ann').redoable).toHaveLength(0);
  });
  test('a consensus goes back and forth as one step, by three moves', () => {
    const log = openLog();
    log.move('ann', 'nadir.L', A);
    log.add('ann', consensus);
    log.undo('ann');
    expect(look(log.state()).marks).toEqual({ 'nadir.L': A });
    expect(log.stacks('ann')).toMatchObject({ undoable: [{}], redoable: [{ events: [{}, {}, {}] }] });
    log.redo('ann');
    expect(look(log.state()).marks).toEqual({ 'nadir.R': [7, 0, 0], 'nadir.L': [0, 7, 0], 'nadir.N': [0, 0, 7] });
    log.undo('ann');
    expect(look(log.state()).marks).toEqual({ 'nadir.L': A });
  });
  test('a new edit empties what could be redone', () => {
    const log = openLog();
    log.move('ann', 'nadir.R', A);
    log.undo('ann');
    log.move('ann', 'nadir.N', B);
    expect(log.stacks('ann').redoable).toHaveLength(0);
    expect(log.stacks('ann').undoable).toHaveLength(1);
  });
  test('nobody takes back a colleague’s edit, nor their own under it', () => {
    const log = openLog();
    log.move('ann', 'nadir.R', A);
    log.move('ann', 'nadir.L', A);
    log.move('ben', 'nadir.R', B);
    expect(log.stacks('ann').undoable.map((e) => e.events[0]!.seq)).toEqual([2]);
    log.undo('ann');
    log.undo('ann');
    expect(look(log.state()).marks).toEqual({ 'nadir.R': B });
    log.undo('ben');
    expect(log.where('nadir.R')).toEqual(A);
  });
  test('a new scan empties both', () => {
    const log = openLog();
    log.move('ann', 'nadir.R', A);
    log.add('trinadir', { kind: 'scan.joined', data: { scanId: 'scan-0002', manifestSha256: '', files: 1, bytes: 1, identity: { verdict: 'same', fields: [], acceptedBecause: null } } });
    expect(log.stacks('ann')).toEqual({ undoable: [], redoable: [] });
  });
  test('an event that only names another as superseded is an edit of its own', () => {
    const log = openLog();
    log.move('ann', 'nadir.R', A);
    log.add('ann', { kind: 'mark.moved', data: { mark: 'nadir.R', lps: B, was: A }, supersedes: 1 });
    expect(log.stacks('ann').undoable).toHaveLength(2);
  });
  test('any number of undos and as many redos lead back to where one was', () => {
    const point = fc.tuple(fc.integer({ min: 0, max: 3 }), fc.constant(0), fc.constant(0));
    const act = fc.oneof(
      fc.record({ kind: fc.constant('move' as const), mark: fc.constantFrom<MarkName>('nadir.R', 'nadir.L', 'ostium.left'), lps: fc.option(point) }),
      fc.record({ kind: fc.constantFrom('undo' as const, 'redo' as const, 'consensus' as const, 'ring' as const) }),
    );
    fc.assert(fc.property(fc.array(act, { maxLength: 14 }), fc.integer({ min: 1, max: 6 }), (acts, times) => {
      const log = openLog();
      for (const a of acts) {
        if (a.kind === 'move') log.move('ann', a.mark, a.lps);
        else if (a.kind === 'consensus') log.add('ann', consensus);
        else if (a.kind === 'ring') log.add('ann', ring(acts.length));
        else log[a.kind]('ann');
      }
      const [before, steps] = [look(log.state()), Math.min(times, log.stacks('ann').undoable.length)];
      for (let i = 0; i < steps; i++) log.undo('ann');
      for (let i = 0; i < steps; i++) log.redo('ann');
      expect(look(log.state())).toEqual(before);
    }), replay);
  });
});
