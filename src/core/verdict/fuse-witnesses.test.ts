import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { CLOCK, VERDICT_RULES, witness } from '../../../test/support/verdict-fixtures.ts';
import { findVerdictRule } from './read-leak-rules.ts';
import { fuseWitnesses } from './fuse-witnesses.ts';
import { judgeWitness } from './judge-witness.ts';
import { listSettling } from './list-settling.ts';
import { WITNESS_KINDS, type LeakInterval } from './verdict-types.ts';

const LINE = { ...findVerdictRule(VERDICT_RULES, 'leak-decision-line')!, value: 2 };
const fuse = (...intervals: readonly (LeakInterval | null)[]) => fuseWitnesses(WITNESS_KINDS.flatMap((k, i) => (intervals[i] === undefined ? [] : [witness(k, intervals[i] ?? null)])), LINE);

describe('D44 fuseWitnesses, decision line 2', () => {
  test('[0,1], [0.5,1.5], [1,1.5] agree, common [1,1], below the line', () => {
    expect(fuse([0, 1], [0.5, 1.5], [1, 1.5])).toMatchObject({ word: 'AGREE', common: [1, 1], side: 'below' });
  });
  test('[0,1], [2.2,3] disagree', () => {
    expect(fuse([0, 1], [2.2, 3])).toMatchObject({ word: 'DISAGREE', common: null, disjoint: [['pressure', 'echo']] });
  });
  test('[1,2.5], [1.5,3] are not settled, common [1.5,2.5]', () => {
    expect(fuse([1, 2.5], [1.5, 3])).toMatchObject({ word: 'NOT SETTLED', common: [1.5, 2.5] });
  });
  test('only echo is one witness only; none cannot say', () => {
    expect(fuseWitnesses([witness('echo', [1, 1])], LINE)).toMatchObject({ word: 'ONE WITNESS ONLY', missing: ['pressure', 'angiogram'] });
    expect(fuseWitnesses([], LINE).word).toBe('CANNOT SAY');
    expect(fuse(null, null, null).word).toBe('CANNOT SAY');
  });
  test('any disjoint pair beats the rest', () => {
    expect(fuse([0, 1], [0, 1], [1.5, 3])).toMatchObject({ word: 'DISAGREE', disjoint: [['pressure', 'angiogram'], ['echo', 'angiogram']] });
    expect(fuse([0, 3], [0, 1], [2.5, 3]).word).toBe('DISAGREE');
  });
  test('touching the line is not settled, from either side; beyond it is agreed above', () => {
    expect(fuse([1, 2], [1, 3]).word).toBe('NOT SETTLED');
    expect(fuse([2, 3], [1, 3]).word).toBe('NOT SETTLED');
    expect(fuse([2.01, 3], [1, 3])).toMatchObject({ word: 'AGREE', side: 'above' });
    expect(fuse([0, 1.99], [0, 3])).toMatchObject({ word: 'AGREE', side: 'below' });
  });
  test('touching intervals are not disjoint', () => {
    expect(fuse([0, 1], [1, 1.5])).toMatchObject({ word: 'AGREE', common: [1, 1] });
  });
  test('without a signed line nothing is settled', () => {
    expect(fuseWitnesses([witness('echo', [0, 1]), witness('pressure', [0, 1])], null)).toMatchObject({ word: 'NOT SETTLED', reasons: [{ code: 'decision-line-missing' }] });
  });
});

describe(`fuseWitnesses (seed ${seed})`, () => {
  const interval = fc.tuple(fc.double({ min: 0, max: 4, noNaN: true }), fc.double({ min: 0, max: 4, noNaN: true })).map(([a, b]): LeakInterval => [Math.min(a, b), Math.max(a, b)]);
  test('the order in which witnesses come does not matter', () => {
    fc.assert(fc.property(interval, interval, interval, (a, b, c) => {
      const all = [witness('pressure', a), witness('echo', b), witness('angiogram', c)];
      expect(fuseWitnesses([...all].reverse(), LINE)).toEqual(fuseWitnesses(all, LINE));
    }), replay);
  });
  test('widening a witness never turns NOT SETTLED into AGREE, nor AGREE into DISAGREE', () => {
    fc.assert(fc.property(interval, interval, fc.double({ min: 0, max: 2, noNaN: true }), (a, b, more) => {
      const [before, after] = [fuse(a, b), fuse([Math.max(0, a[0] - more), Math.min(4, a[1] + more)], b)];
      if (before.word === 'NOT SETTLED') expect(after.word).toBe('NOT SETTLED');
      if (before.word === 'AGREE') expect(after.word).not.toBe('DISAGREE');
    }), replay);
  });
  test('the common interval lies in every one that speaks', () => {
    fc.assert(fc.property(interval, interval, interval, (a, b, c) => {
      const { common } = fuse(a, b, c);
      if (common) for (const [low, high] of [a, b, c]) expect(low <= common[0] && common[1] <= high).toBe(true);
    }), replay);
  });
});

describe('several readers of one kind', () => {
  const [older, newer] = ['2026-03-02T10:12:00.000Z', '2026-03-02T10:15:00.000Z'];
  test('count once: two echoes alone are one witness', () => {
    const verdict = fuseWitnesses([witness('echo', [0, 1], { by: 'A' }), witness('echo', [1, 1], { by: 'B' })], LINE);
    expect(verdict).toMatchObject({ word: 'ONE WITNESS ONLY', common: [0, 1], reasons: [] });
    expect(verdict.speaking[0]!.by).toBe('A, B');
  });
  test('that exclude one another are named and kept, never averaged', () => {
    expect(fuseWitnesses([witness('echo', [0, 1], { by: 'A' }), witness('echo', [3, 3], { by: 'B' }), witness('angiogram', [2.5, 3])], LINE)).toMatchObject({ word: 'AGREE', common: [2.5, 3], reasons: [{ code: 'readers-differ' }] });
  });
  test('the newest of one reader replaces their older, whatever the order', () => {
    const all = [witness('echo', [0, 0], { at: newer }), witness('echo', [4, 4], { at: older })];
    expect(fuseWitnesses(all, LINE).speaking[0]!.interval).toEqual([0, 0]);
    expect(fuseWitnesses([...all].reverse(), LINE).speaking[0]!.interval).toEqual([0, 0]);
  });
  test('two of one reader at one instant both count, in any order', () => {
    const all = [witness('echo', [0, 1], { method: 'b' }), witness('echo', [3, 4], { method: 'a' }), witness('pressure', [0, 1])];
    for (const each of [all, [...all].reverse()]) expect(fuseWitnesses(each, LINE)).toMatchObject({ word: 'AGREE', reasons: [{ code: 'readers-differ' }], speaking: [{ kind: 'pressure' }, { interval: [0, 4], method: 'a; b' }] });
  });
  test('stand with the time and the rate of the newest, whoever read first', () => {
    const all = [witness('echo', [0, 1], { by: 'A', at: older }), witness('echo', [0, 1], { by: 'B', at: '2026-03-02T10:13:00.000Z', heartRatePerMin: 60 }), witness('echo', [0, 1], { by: 'A', at: newer, heartRatePerMin: 90 })];
    expect(fuseWitnesses(all, LINE).speaking[0]).toMatchObject({ at: newer, heartRatePerMin: 90, by: 'B, A' });
  });
  test('the oldest that counts tells whether the readings are of one moment', () => {
    const all = [witness('echo', [0, 1], { by: 'A', at: '2026-03-02T10:01:00.000Z' }), witness('echo', [0, 1], { by: 'B', at: newer }), witness('pressure', [0, 1], { at: newer })];
    expect(fuseWitnesses(all, LINE, findVerdictRule(VERDICT_RULES, 'leak-witnesses-apart')).reasons.map((r) => r.code)).toEqual(['witnesses-apart']);
  });
  test('one that may not speak while another does is named, unless it is of before the manoeuvre', () => {
    const lack = { code: 'run-not-analysable', text: 'The run cannot be analysed.', next: 'Repeat the run.' };
    const silent = witness('angiogram', null, { by: 'C', isValid: false, reasons: [lack] });
    const found = fuseWitnesses([silent, witness('angiogram', [0, 1], { by: 'D' }), witness('echo', [0, 1])], LINE);
    expect(found).toMatchObject({ word: 'AGREE', reasons: [{ code: 'reading-not-counted', next: 'Repeat the run.' }] });
    expect(found.reasons[0]!.text).toContain('The run cannot be analysed.');
    const old = { ...silent, reasons: [{ ...lack, code: 'witness-before-manoeuvre' }] };
    expect(fuseWitnesses([old, witness('angiogram', [0, 1], { by: 'D' }), witness('echo', [0, 1])], LINE).reasons).toEqual([]);
  });
  test('readings far apart in time are said to be', () => {
    const apart = findVerdictRule(VERDICT_RULES, 'leak-witnesses-apart');
    const read = (minute: string) => fuseWitnesses([witness('echo', [0, 1], { at: '2026-03-02T10:12:00.000Z' }), witness('pressure', [0, 1], { at: `2026-03-02T10:${minute}:00.000Z` })], LINE, apart).reasons.map((r) => r.code);
    expect(read('22')).toEqual([]);
    expect(read('23')).toEqual(['witnesses-apart']);
  });
});

describe('judgeWitness', () => {
  const codes = (change: Parameters<typeof witness>[2], clock: Parameters<typeof judgeWitness>[1] = CLOCK, interval: LeakInterval | null = [0, 1]) => {
    const judged = judgeWitness(witness('echo', interval, change), clock);
    expect(judged.isValid).toBe(judged.reasons.length === 0);
    return judged.reasons.map((r) => r.code);
  };
  test('a sound witness may speak, with its minutes after release', () => {
    expect(judgeWitness(witness('echo', [0, 1]), CLOCK)).toMatchObject({ isValid: true, minutesAfterRelease: 4 });
  });
  test('method, rate, loading, time and release are each needed', () => {
    expect(codes({ method: ' ' })).toEqual(['witness-without-method']);
    for (const heartRatePerMin of [null, 0, -70, Number.NaN]) expect(codes({ heartRatePerMin })).toEqual(['witness-without-rate']);
    expect(codes({ loadingNote: null })).toEqual(['witness-without-loading']);
    expect(codes({ loadingNote: '  ' })).toEqual(['witness-without-loading']);
    expect(codes({ at: 'today' })).toEqual(['witness-without-time']);
    expect(codes({}, { ...CLOCK, releasedAt: null })).toEqual(['witness-without-release']);
  });
  test('one of before the release or of the future is void', () => {
    expect(codes({ at: '2026-03-02T10:09:59.000Z' })).toEqual(['witness-before-release']);
    expect(codes({ at: '2026-03-02T10:16:00.001Z' })).toEqual(['witness-in-future']);
  });
  test('one not newer than the last manoeuvre is void', () => {
    expect(codes({}, { ...CLOCK, lastManoeuvreAt: '2026-03-02T10:14:00.001Z' })).toEqual(['witness-before-manoeuvre']);
    expect(codes({}, { ...CLOCK, lastManoeuvreAt: '2026-03-02T10:14:00.000Z' })).toEqual(['witness-before-manoeuvre']);
    expect(codes({}, { ...CLOCK, lastManoeuvreAt: '2026-03-02T10:13:59.999Z' })).toEqual([]);
  });
  test('an interval that is none on the scale is void', () => {
    for (const interval of [[1, 0], [-1, 2], [0, 5], [Number.NaN, 1]] as const) expect(codes({}, CLOCK, interval)).toEqual(['witness-interval']);
  });
});

describe('listSettling', () => {
  test('nothing after AGREE', () => expect(listSettling(fuse([0, 1], [0, 1]))).toEqual([]));
  test('one witness only asks for the missing ones, not for the same again', () => {
    expect(listSettling(fuseWitnesses([witness('echo', [1, 1])], LINE)).map((s) => [s.code, s.kind])).toEqual([['take', 'pressure'], ['take', 'angiogram']]);
  });
  test('a void witness is repeated for what voided it, before a missing one is asked', () => {
    const steps = listSettling(fuseWitnesses([witness('echo', [1, 1]), judgeWitness(witness('pressure', [0, 1], { heartRatePerMin: null }), CLOCK)], LINE));
    expect(steps.map((s) => [s.code, s.kind])).toEqual([['repeat', 'pressure'], ['take', 'angiogram']]);
    expect(steps[0]!.next).toBe('Enter the heart rate.');
  });
  test('of those that disagree the one with a named doubt comes first, then the third', () => {
    const doubt = { code: 'rate-high', text: 'Fast.', next: 'Slow it.' };
    const steps = listSettling(fuseWitnesses([witness('pressure', [0, 1], { reasons: [doubt] }), witness('echo', [3, 3])], LINE));
    expect(steps.map((s) => [s.code, s.kind])).toEqual([['narrow', 'pressure'], ['take', 'angiogram'], ['narrow', 'echo']]);
    expect(steps[0]).toMatchObject({ next: 'Slow it.', because: 'From the pressures: none to mild (0 to 1); that excludes the echo. Fast.' });
  });
  test('not settled: the widest of three is narrowed first', () => {
    expect(listSettling(fuse([0, 4], [1, 2.5], [1, 3])).map((s) => s.kind)).toEqual(['pressure', 'angiogram', 'echo']);
  });
  test('a missing line is signed first', () => {
    expect(listSettling(fuseWitnesses([witness('echo', [0, 1]), witness('pressure', [0, 1])], null))[0]!.code).toBe('sign');
  });
});
