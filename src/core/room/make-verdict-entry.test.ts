import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CLOCK, NO_ENTRIES, NO_SIGNS, VERDICT_RULES, witness } from '../../../test/support/verdict-fixtures.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { VERDICT_ENTRY_EN } from '../text/verdict-entry-en.ts';
import { composeVerdict, type VerdictInputs } from '../verdict/compose-verdict.ts';
import { REMEDIES } from '../verdict/verdict-types.ts';
import { cutAtWord, makeVerdictEntry } from './make-verdict-entry.ts';

const SHA = 'ab'.repeat(32);
const GRADE = { by: 'Reader One', at: '2026-03-02T10:15:00.000Z', interval: [1, 1], kind: null } as const;
const inputs = (change: Partial<VerdictInputs> = {}): VerdictInputs => ({
  clock: CLOCK, present: ['Reader One'], grades: [GRADE], witnesses: [witness('pressure', [1, 2.5]), witness('echo', [1.5, 3])], rules: VERDICT_RULES,
  valve: { kind: 'self-expanding', isWaitAllowed: null, size: { balloonMaxMm: 24 } }, root: null,
  balloonsMm: [20, 22], second: null, pressure: null, entries: NO_ENTRIES, signs: NO_SIGNS, gaps: null, seen: null, ...change,
});
const make = (change: Partial<VerdictInputs> = {}) => makeVerdictEntry(composeVerdict(inputs(change)), SHA);

describe(`makeVerdictEntry (seed ${seed})`, () => {
  test('D44 word, side, witnesses and the wait of the answer; a silent witness is there without a grade, a missing one is not', () => {
    const entry = make()!;
    expect(entry).toMatchObject({ is: 'verdict', answerSha256: SHA, word: 'NOT SETTLED', side: null, waitUntil: '2026-03-02T10:20:00.000Z', witnesses: [{ kind: 'pressure', low: 1, high: 2.5 }, { kind: 'echo', low: 1.5, high: 3 }] });
    expect(make({ witnesses: [witness('pressure', [0, 1]), witness('echo', null), witness('angiogram', [1, 1])] })).toMatchObject({ word: 'AGREE', side: 'below', witnesses: [{ kind: 'pressure', low: 0, high: 1 }, { kind: 'echo', low: null, high: null }, { kind: 'angiogram', low: 1, high: 1 }] });
    expect(entry.next).toBe(composeVerdict(inputs()).next);
  });

  test('D43 while the gate is closed there is nothing to put on a wall', () => {
    expect(make({ grades: [] })).toBeNull();
    expect(make({ present: [] })).toBeNull();
  });

  test('a wait that is over, or that cannot run, is no timer', () => {
    expect(make({ clock: { ...CLOCK, nowAt: '2026-03-02T10:30:00.000Z' } })!.waitUntil).toBeNull();
    expect(make({ valve: { kind: 'balloon-expandable', isWaitAllowed: null, size: null } })!.waitUntil).toBeNull();
  });

  test('D46 all six remedies in their order; what speaks against one stands first, whatever its state', () => {
    const entry = make({ signs: { ...NO_SIGNS, hasEffusion: true, isSurgeryAgreed: false, isCirculationStable: true } })!;
    expect(entry.remedies.map((r) => r.code)).toEqual(REMEDIES);
    const of = (code: string) => entry.remedies.find((r) => r.code === code)!;
    expect(of('wait')).toEqual({ code: 'wait', state: 'open', detail: 'AGAINST: effusion.' });
    expect(of('surgery')).toMatchObject({ state: 'closed', detail: 'Not agreed before. As written in the bail-out plan.' });
    expect(of('closure').detail).toBe('Leak beside the frame? Frame still? Plug ready? Leak above the line? A plug beside the frame.');
    expect(entry.remedies.every((r) => !/recommend|should|best|first choice/i.test(r.detail))).toBe(true);
  });

  test('every condition and sign of the board has its short words', () => {
    const keysOf = (pattern: RegExp, text: object): string[] => Object.keys(text).flatMap((key) => pattern.exec(key)?.[1] ?? []).sort();
    const must = keysOf(/^(must[A-Z]\w+)$/, VERDICT_EN);
    expect(must.length).toBeGreaterThan(10);
    expect([keysOf(/^not-(must\w+)$/, VERDICT_ENTRY_EN), keysOf(/^ask-(must\w+)$/, VERDICT_ENTRY_EN), keysOf(/^(sign\w+)$/, VERDICT_ENTRY_EN)]).toEqual([must, must, keysOf(/^(sign[A-Z]\w+)$/, VERDICT_EN)]);
  });

  test('nothing is cut in silence: a text within its bound is left alone, a longer one ends at a word with its sign', () => {
    expect(cutAtWord('one two three', 13)).toBe('one two three');
    expect(cutAtWord('one two three', 12)).toBe('one two…');
    expect(cutAtWord('one two, three', 9)).toBe('one two…');
    expect(cutAtWord('one two three', 8)).toBe('one two…');
    expect(cutAtWord('W'.repeat(30), 10)).toBe(`${'W'.repeat(9)}…`);
    fc.assert(fc.property(fc.string({ unit: 'grapheme', maxLength: 80 }), fc.integer({ min: 2, max: 60 }), (text, most) => {
      const cut = cutAtWord(text, most);
      expect(cut.length).toBeLessThanOrEqual(most);
      if (text.length <= most) expect(cut).toBe(text);
      else expect(cut.endsWith('…') && text.startsWith(cut.slice(0, -1))).toBe(true);
      expect(cut).not.toMatch(/[\uD800-\uDBFF](?![\uDC00-\uDFFF])/);
    }), replay);
  });

  test('the longest answer passes the bounds of the log', () => {
    const answer = composeVerdict(inputs());
    const long = { ...answer, next: 'word '.repeat(200), remedies: answer.remedies!.map((r) => ({ ...r, detail: 'detail '.repeat(90) })) };
    const entry = makeVerdictEntry(long, SHA)!;
    expect([entry.next.length <= 300, entry.next.endsWith('…'), ...entry.remedies.map((r) => r.detail.length <= 200)]).toEqual(Array(8).fill(true));
  });
});
