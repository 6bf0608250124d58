import { describe, expect, test } from 'vitest';
import { checkOwnGradeFirst, judgeGradeGate, type OwnGrade } from './own-grade-first.ts';

const at = (s: number): string => `2026-03-02T10:12:${String(s).padStart(2, '0')}.000Z`;
const grade = (by: string, s: number): OwnGrade => ({ by, at: at(s), interval: [1, 1], kind: 'echo' });
const GRADES = [grade('One', 10), grade('Two', 20)];

describe('D43 judgeGradeGate', () => {
  test('stays closed until every present reader has stored a grade, and opens at the last', () => {
    expect(judgeGradeGate(['One', 'Two'], GRADES, null, at(19))).toMatchObject({ isOpen: false, waitingFor: ['Two'], openedAt: null });
    expect(judgeGradeGate(['One', 'Two'], GRADES, null, at(20))).toMatchObject({ isOpen: true, waitingFor: [], openedAt: at(20) });
  });
  test('a reader without an own grade sees nobody’s; one with it sees all stored', () => {
    const { visibleTo } = judgeGradeGate(['One', 'Two'], GRADES, null, at(15));
    expect(visibleTo).toEqual({ One: [GRADES[0]], Two: [] });
    expect(judgeGradeGate(['One', 'Two'], GRADES, null, at(20)).visibleTo).toEqual({ One: GRADES, Two: GRADES });
  });
  test('a second grade does not move the opening; the order of the list does not matter', () => {
    const all = [grade('Two', 40), ...GRADES].reverse();
    expect(judgeGradeGate(['Two', 'One'], all, null, at(50)).openedAt).toBe(at(20));
  });
  test('a manoeuvre closes it again: grades up to it do not count', () => {
    expect(judgeGradeGate(['One', 'Two'], GRADES, at(20), at(30))).toMatchObject({ isOpen: false, waitingFor: ['One', 'Two'] });
    expect(judgeGradeGate(['One'], [grade('One', 21)], at(20), at(30)).isOpen).toBe(true);
  });
  test('nobody present, a grade of the future, one without time or interval: closed', () => {
    expect(judgeGradeGate([], GRADES, null, at(30)).isOpen).toBe(false);
    expect(judgeGradeGate(['One'], [grade('One', 31)], null, at(30)).isOpen).toBe(false);
    expect(judgeGradeGate(['One'], [{ ...grade('One', 1), at: 'soon' }], null, at(30)).isOpen).toBe(false);
    expect(judgeGradeGate(['One'], [{ ...grade('One', 1), interval: [Number.NaN, 1] }], null, at(30)).isOpen).toBe(false);
  });
  test('who is not present need not grade', () => {
    expect(judgeGradeGate(['One'], GRADES, null, at(12)).isOpen).toBe(true);
  });
});

describe('checkOwnGradeFirst', () => {
  const shown = (to: string, s: number, what: 'verdict' | 'grade' = 'verdict') => [{ to, at: at(s), what }];
  test('the order that the gate keeps has no breach', () => {
    expect(checkOwnGradeFirst(['One', 'Two'], GRADES, shown('One', 21))).toEqual([]);
    expect(checkOwnGradeFirst(['One', 'Two'], GRADES, shown('One', 11, 'grade'))).toEqual([]);
  });
  test('a verdict seen before one’s own or another’s grade is a breach, at the very instant too', () => {
    expect(checkOwnGradeFirst(['One', 'Two'], GRADES, shown('Two', 15))).toHaveLength(1);
    expect(checkOwnGradeFirst(['One', 'Two'], GRADES, shown('One', 20))).toEqual([`the verdict was shown at ${at(20)} before the grade of Two was stored`]);
    expect(checkOwnGradeFirst(['One', 'Two'], GRADES, shown('Two', 20, 'grade'))).toHaveLength(1);
  });
});
