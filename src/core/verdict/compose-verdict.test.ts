import { describe, expect, test } from 'vitest';
import { CLOCK, fact, finding, makePressureAnswer, NO_ENTRIES, NO_SIGNS, VERDICT_RULES, WHO, withRule, type PressureNumbers } from '../../../test/support/verdict-fixtures.ts';
import { composeVerdict, type VerdictInputs } from './compose-verdict.ts';
import { describeVerdict } from './describe-verdict.ts';
import { explainLowDiastole, type DiastoleEntries } from './explain-low-diastole.ts';
import { makeAngiogramWitness, makeAortographyWitness, makeGradedWitness, makePressureWitness, type GradeWord } from './make-witness.ts';
import type { LeakWitness } from './verdict-types.ts';

const pressure = (n: PressureNumbers): LeakWitness => makePressureWitness(makePressureAnswer(n), WHO, VERDICT_RULES);
const echo = (from: GradeWord, to: GradeWord = from): LeakWitness => makeGradedWitness('echo', from, to, 'colour Doppler, short axis', WHO);
const density = (ratio: number | null, half = 0.01): LeakWitness => makeAngiogramWitness(fact(ratio, '1', ratio === null ? 0 : half), WHO, VERDICT_RULES);

/** A situation: pressures as numbers, what echo and angiogram say. */
function decide(n: PressureNumbers | null, others: readonly LeakWitness[], change: Partial<VerdictInputs> = {}) {
  return composeVerdict({
    clock: CLOCK, present: ['Reader One'], grades: [{ by: 'Reader One', at: '2026-03-02T10:13:00.000Z', interval: [1, 2], kind: null }],
    witnesses: [...(n ? [pressure(n)] : []), ...others], rules: VERDICT_RULES, valve: { kind: 'self-expanding', isWaitAllowed: null, size: { balloonMaxMm: 24 } },
    root: null, balloonsMm: [20, 22], second: null, pressure: n ? makePressureAnswer(n) : null, entries: NO_ENTRIES, signs: NO_SIGNS, gaps: null, seen: null, ...change,
  });
}
const NORMAL: PressureNumbers = { systolic: 130, diastolic: 62, endDiastolic: 14, ratePerMin: 72, notchShare: 0.95 };

describe('eight described situations: the right words, the right next measurement', () => {
  test('1 agree, none: calm pressures, no jet, clean outflow tract', () => {
    const answer = decide(NORMAL, [echo('none'), density(0.06)]);
    expect(answer.verdict).toMatchObject({ word: 'AGREE', side: 'below', common: [0, 0] });
    expect(describeVerdict(answer)[0]).toBe('Answer  AGREE: none (0), below the decision line.');
    expect(answer.next).toMatch(/^The operator decides whether/);
    expect(answer.settling).toEqual([]);
    expect(answer.remedies!.find((r) => r.code === 'post-dilate')!.state).toBe('closed');
  });
  test('2 agree, mild: index 28, mild jet, ratio 0.12', () => {
    const answer = decide({ ...NORMAL, diastolic: 54, endDiastolic: 17 }, [echo('mild'), density(0.12)]);
    expect(answer.verdict).toMatchObject({ word: 'AGREE', side: 'below', common: [1, 1] });
    expect(describeVerdict(answer)[0]).toBe('Answer  AGREE: mild (1), below the decision line.');
  });
  test('3 agree, severe: index 8, jet all round, outflow tract as dense as the root', () => {
    const answer = decide({ systolic: 128, diastolic: 36, endDiastolic: 26, ratePerMin: 84, notchShare: 0 }, [echo('moderate to severe', 'severe'), density(0.41)]);
    expect(answer.verdict).toMatchObject({ word: 'AGREE', side: 'above', common: [3, 4] });
    expect(describeVerdict(answer)[0]).toBe('Answer  AGREE: moderate-to-severe to severe (3 to 4), above the decision line.');
    expect(answer.next).toMatch(/remedy board/);
    expect(answer.waiting.state).toBe('running');
    expect(answer.lowDiastole!.rows.find((r) => r.cause === 'leak')!.weight).toBe('for');
  });
  test('own grades that exclude what the witnesses have in common are said, and change nothing of the verdict', () => {
    const graded = (low: number, high: number) => decide(NORMAL, [echo('mild'), density(0.12)], { present: ['Reader One', 'Two'], grades: [{ by: 'Reader One', at: '2026-03-02T10:13:00.000Z', interval: [low, high], kind: null }, { by: 'Two', at: '2026-03-02T10:13:10.000Z', interval: [0, 1], kind: null }] });
    const [near, far] = [graded(1, 2), graded(3, 4)];
    expect([near, far].map((a) => a.verdict!.reasons.filter((r) => r.code === 'own-grades-apart').map((r) => r.text))).toEqual([[], ['Own grades that exclude what the witnesses have in common, mild (1): 1 of 2.']]);
    expect([far.verdict!.word, far.verdict!.side, far.verdict!.common, far.next]).toEqual([near.verdict!.word, near.verdict!.side, near.verdict!.common, near.next]);
    // The newest of a reader counts, and only an overall one.
    const again = decide(NORMAL, [echo('mild'), density(0.12)], { grades: [{ by: 'Reader One', at: '2026-03-02T10:13:00.000Z', interval: [4, 4], kind: null }, { by: 'Reader One', at: '2026-03-02T10:13:20.000Z', interval: [1, 1], kind: null }, { by: 'Reader One', at: '2026-03-02T10:13:30.000Z', interval: [4, 4], kind: 'echo' }] });
    expect(again.verdict!.reasons.map((r) => r.code)).not.toContain('own-grades-apart');
  });
  test('4 disagree: calm pressures and mild echo against a dense outflow tract', () => {
    const answer = decide(NORMAL, [echo('mild'), density(0.24)]);
    expect(answer.verdict).toMatchObject({ word: 'DISAGREE', common: null, disjoint: [['pressure', 'angiogram'], ['echo', 'angiogram']] });
    expect(describeVerdict(answer)[0]).toBe('Answer  DISAGREE: the pressures and the angiogram exclude one another; the echo and the angiogram exclude one another.');
    expect(answer.settling.map((s) => [s.code, s.kind])).toEqual([['narrow', 'angiogram'], ['narrow', 'pressure'], ['narrow', 'echo']]);
  });
  test('5 one witness only: echo; the pressures are older than the balloon, the run was not analysable', () => {
    const answer = decide(NORMAL, [{ ...echo('mild'), at: '2026-03-02T10:15:30.000Z' }, { ...density(null), at: '2026-03-02T10:15:40.000Z' }], {
      clock: { ...CLOCK, lastManoeuvreAt: '2026-03-02T10:15:00.000Z' }, grades: [{ by: 'Reader One', at: '2026-03-02T10:15:50.000Z', interval: [1, 1], kind: null }],
    });
    expect(answer.verdict).toMatchObject({ word: 'ONE WITNESS ONLY', common: [1, 1] });
    expect(describeVerdict(answer)[0]).toBe('Answer  ONE WITNESS ONLY: the echo, mild (1). One witness proves nothing.');
    expect(answer.settling.map((s) => [s.code, s.kind, s.next])).toEqual([['repeat', 'pressure', 'Measure again: the manoeuvre may have changed the leak.'], ['repeat', 'angiogram', 'Measure it.']]);
  });
  test('6 low diastole without leak: low index, no jet, clean run: disagree, and the alternatives are laid out', () => {
    const answer = decide({ systolic: 92, diastolic: 28, endDiastolic: 6, ratePerMin: 88, mean: 48, notchShare: 0.95 }, [echo('none'), density(0.05)], { entries: { ...NO_ENTRIES, hasVasodilator: true, isBleeding: false, hasEffusion: false } });
    expect(answer.verdict).toMatchObject({ word: 'DISAGREE' });
    expect(answer.lowDiastole!.state).toBe('low');
    expect(Object.fromEntries(answer.lowDiastole!.rows.map((r) => [r.cause, r.weight]))).toMatchObject({ 'leak': 'both ways', vasoplegia: 'for', 'ventricle': 'against', line: 'against' });
    expect(describeVerdict(answer).join('\n')).toContain('The diastolic pressure is low. A leak is one of its causes:');
    expect(answer.remedies!.filter((r) => r.code !== 'wait').some((r) => r.state === 'open')).toBe(false);
  });
  test('7 tachycardia: an index that would clear the valve may not; measure again at a rate within the signed ones', () => {
    const n = { ...NORMAL, ratePerMin: 126 };
    expect(pressure(NORMAL).interval).toEqual([0, 1]);
    expect(pressure(n)).toMatchObject({ interval: [0, 3], isValid: true, reasons: [{ code: 'rate-high', next: 'Measure the pressures again at a rate from 50 to 100 /min.' }] });
    const answer = decide(n, [echo('mild', 'moderate')]);
    expect(answer.verdict).toMatchObject({ word: 'NOT SETTLED', common: [1, 2] });
    expect(answer.settling.map((s) => [s.code, s.kind])).toEqual([['take', 'angiogram'], ['narrow', 'pressure'], ['narrow', 'echo']]);
    expect(answer.settling[1]!.next).toBe('Measure the pressures again at a rate from 50 to 100 /min.');
    expect(describeVerdict(answer)[0]).toBe('Answer  NOT SETTLED: mild to moderate (1 to 2) touches or crosses the decision line.');
  });
  test('8 damped line: the pressures say nothing, whatever their index; flush and record again', () => {
    const damped = finding('line-damped', 'The aortic line is damped.', 'Flush the line and record again.');
    const n = { ...NORMAL, quality: [damped] };
    expect(pressure(n)).toMatchObject({ interval: null, isValid: false, reasons: [{ code: 'line-damped' }] });
    const answer = decide(n, [echo('mild'), density(0.12)]);
    expect(answer.verdict).toMatchObject({ word: 'AGREE', common: [1, 1], silent: [{ kind: 'pressure' }] });
    expect(describeVerdict(answer)).toContain('Doubt   Not counted: the pressures. The aortic line is damped.');
    const alone = decide(n, [echo('mild')]);
    expect(alone.verdict!.word).toBe('ONE WITNESS ONLY');
    expect(alone.next).toBe('Flush the line and record again.');
  });
});

describe('composeVerdict', () => {
  test('D43 before the own grade nothing of any grade is in the answer', () => {
    const closed = decide(NORMAL, [echo('severe')], { grades: [] });
    expect(closed).toMatchObject({ verdict: null, settling: [], remedies: null, lowDiastole: null, sites: null });
    expect(JSON.stringify(closed)).not.toMatch(/severe|AGREE|interval/);
    expect(describeVerdict(closed)).toEqual(['Answer  Hidden until every reader in the room has stored a grade of their own.', 'Why     Still without a grade since the last manoeuvre: Reader One.', 'Next    Each enters their own grade, unseen by the others: Reader One.']);
  });
  test('a time of release or manoeuvre that cannot be read keeps the gate closed', () => {
    expect(decide(NORMAL, [echo('mild')], { clock: { ...CLOCK, lastManoeuvreAt: 'just now' } }).gate.isOpen).toBe(false);
    expect(decide(NORMAL, [echo('mild')], { clock: { ...CLOCK, releasedAt: '10:10' } }).verdict).toBeNull();
  });
  test('no rules: no witness is read, nothing is settled, the step is to sign', () => {
    const answer = decide(null, [makeAngiogramWitness(fact(0.3), WHO, null), echo('mild')], { rules: null });
    expect(answer.verdict!.word).toBe('ONE WITNESS ONLY');
    expect(answer.verdict!.silent[0]!.reasons[0]!.code).toBe('no-leak-rule');
    expect(answer.isTraining).toBe(false);
  });
  test('a rule of memory says unverified where it acts; sources are named', () => {
    const { method } = pressure({ ...NORMAL, diastolic: 40, endDiastolic: 18, before: 40 });
    expect(method).toContain('from memory (unverified)');
    expect(method).toContain('Sinning J-M');
  });
  test('E13 same inputs give the same bytes; E10 the words hold no percentage of risk', () => {
    const n = { ...NORMAL, diastolic: 40 };
    expect(JSON.stringify(decide(n, [echo('mild')]))).toBe(JSON.stringify(decide(n, [echo('mild')])));
    expect(describeVerdict(decide(n, [echo('mild'), density(0.2)])).join('\n')).not.toMatch(/\d ?%|\{\w+\}|undefined|NaN/);
  });
});

describe('makePressureWitness', () => {
  test('D45 the published example: index 28.6, difference 40, adjusted 32', () => {
    const w = makePressureWitness(makePressureAnswer({ systolic: 140, diastolic: 60, endDiastolic: 20, ratePerMin: 100 }), WHO, VERDICT_RULES);
    expect(w).toMatchObject({ interval: [0, 1], isValid: true, heartRatePerMin: 100 });
    expect(w.method).toContain('diastolic difference adjusted for rate 32 mmHg');
  });
  test('D45 paced: no witness; irregular: a witness with a flag; no LVEDP: not computed', () => {
    expect(pressure({ ...NORMAL, rhythm: 'paced fast' })).toMatchObject({ isValid: false, interval: null, reasons: [{ code: 'pressures-paced' }] });
    expect(pressure({ ...NORMAL, rhythm: 'cannot say' })).toMatchObject({ isValid: false, reasons: [{ code: 'pressures-rhythm' }] });
    expect(pressure({ ...NORMAL, rhythm: 'irregular' })).toMatchObject({ isValid: true, reasons: [{ code: 'pressures-irregular' }] });
    expect(pressure({ ...NORMAL, endDiastolic: null })).toMatchObject({ isValid: false, interval: null, reasons: [{ code: 'not-measured' }] });
  });
  test('a slow heart keeps a low index from accusing, not a high one from clearing', () => {
    const low = { ...NORMAL, diastolic: 44, endDiastolic: 18 };
    expect(pressure(low).interval).toEqual([1, 3]);
    expect(pressure({ ...low, ratePerMin: 42 })).toMatchObject({ interval: [0, 3], reasons: [{ code: 'rate-low' }] });
    expect(pressure({ ...NORMAL, ratePerMin: 42 }).interval).toEqual([0, 1]);
  });
  test('exactly the signed rates are within; without rate rules nothing is silenced', () => {
    for (const ratePerMin of [50, 100]) expect(pressure({ ...NORMAL, ratePerMin }).reasons).toEqual([]);
    const free = withRule('leak-rate-high', null, withRule('leak-rate-low', null));
    expect(makePressureWitness(makePressureAnswer({ ...NORMAL, ratePerMin: 126 }), WHO, free).interval).toEqual([0, 1]);
  });
  test('exchanged channels, ringing, kPa and alike channels void it; a doubt elsewhere is kept; the ECG’s finding is not the line’s', () => {
    for (const code of ['channels-swapped', 'line-rings', 'unit-looks-kpa', 'channels-alike'] as const) {
      expect(pressure({ ...NORMAL, quality: [finding(code, 'Bad.', 'Mend.', 'doubt')] })).toMatchObject({ isValid: false, reasons: [{ code }] });
    }
    expect(pressure({ ...NORMAL, quality: [finding('zero-doubtful', 'Zero.', 'Zero it.', 'doubt')] })).toMatchObject({ isValid: true, interval: [0, 1], reasons: [{ code: 'zero-doubtful' }] });
    expect(pressure({ ...NORMAL, quality: [{ ...finding('pressure-flat', 'Flat.', 'Mend.'), channel: 'ecg' }] }).isValid).toBe(true);
  });
});

describe('HD-20 natural frequency of the line', () => {
  const withLine = (hz: number, half = 0) => ({ ...makePressureAnswer({ ...NORMAL, diastolic: 40, notchShare: 0 }), line: [{ channel: 'aortic', by: 'flush', naturalHz: fact(hz, 'Hz', half), dampingRatio: fact(0.5) }] as const });
  test('below 7 Hz the pressures are no witness; 7.0 is; a band that holds it is a doubt', () => {
    expect(makePressureWitness(withLine(6.9), WHO, VERDICT_RULES)).toMatchObject({ isValid: false, interval: null, reasons: [{ code: 'line-slow' }] });
    expect(makePressureWitness(withLine(7), WHO, VERDICT_RULES)).toMatchObject({ isValid: true, reasons: [] });
    expect(makePressureWitness(withLine(7.5, 1), WHO, VERDICT_RULES)).toMatchObject({ isValid: true, reasons: [{ code: 'line-slow' }] });
    expect(makePressureWitness(withLine(6.9), WHO, withRule('line-natural-least', null)).isValid).toBe(true);
  });
  test('up to 24 Hz a lost notch says nothing for a leak', () => {
    const notchSays = (hz: number): string => JSON.stringify(explainLowDiastole(withLine(hz), null, NO_ENTRIES, VERDICT_RULES).rows.find((r) => r.cause === 'leak')!.for);
    expect(notchSays(24)).not.toMatch(/notch/);
    expect(notchSays(24.1)).toMatch(/notch/);
  });
});

describe('the other witnesses', () => {
  test('AN-01 a grade by eye is one class off either way, and stays on the scale', () => {
    const interval = (g: number) => makeAortographyWitness(g, WHO, VERDICT_RULES).interval;
    expect([0, 1, 2, 3, 4].map(interval)).toEqual([[0, 1], [0, 2], [1, 3], [2, 4], [3, 4]]);
    expect(makeAortographyWitness(2.5, WHO, VERDICT_RULES)).toMatchObject({ isValid: false, reasons: [{ code: 'aortography-grade' }] });
    expect(makeAortographyWitness(2, WHO, null)).toMatchObject({ isValid: false, reasons: [{ code: 'aortography-spread-missing' }] });
  });
  test('AN-05 a run that cannot be analysed is no witness, never 0', () => {
    expect(density(null)).toMatchObject({ interval: null, isValid: false, reasons: [{ code: 'not-measured' }] });
  });
  test('a ratio whose band holds the limit leaves both sides', () => {
    expect(density(0.17, 0.03).interval).toBeNull();
    expect(density(0.17, 0.03).reasons[0]!.code).toBe('no-leak-rule');
    expect(density(0.21, 0.03).interval).toEqual([2, 4]);
  });
  test('EC-18 grades in words; the classes must come in order', () => {
    expect(echo('mild to moderate').interval).toEqual([1.5, 1.5]);
    expect(echo('moderate', 'mild')).toMatchObject({ interval: null, isValid: false, reasons: [{ code: 'grade-order' }] });
  });
});

describe('explainLowDiastole', () => {
  const explain = (n: PressureNumbers, entries: Partial<DiastoleEntries> = {}) => explainLowDiastole(makePressureAnswer(n), null, { ...NO_ENTRIES, ...entries }, VERDICT_RULES);
  const weights = (n: PressureNumbers, entries: Partial<DiastoleEntries> = {}) => Object.fromEntries(explain(n, entries).rows.map((r) => [r.cause, r.weight]));
  test('50 is not low, 49.9 is; without the rule nobody can say', () => {
    expect(explain({ ...NORMAL, diastolic: 50 })).toEqual({ state: 'not low', because: 'aortic diastolic pressure 50 mmHg, not below 50 mmHg (unverified).', rows: [] });
    expect(explain({ ...NORMAL, diastolic: 49.9 }).state).toBe('low');
    expect(explainLowDiastole(makePressureAnswer(NORMAL), null, NO_ENTRIES, withRule('diastolic-low', null)).state).toBe('cannot say');
  });
  test('each fact stands with its unit on its own side of the limit, and a limit without source is unverified', () => {
    const found = explain({ ...NORMAL, diastolic: 40, systolic: 100, endDiastolic: 18 });
    const rows = Object.fromEntries(found.rows.map((r) => [r.cause, r]));
    expect(found.because).toBe('aortic diastolic pressure 40 mmHg, below 50 mmHg (unverified).');
    // A pulse of 60 is not above 60, and a filling pressure of 18 not above 18: neither is "below".
    expect(rows['stiff-aorta']!.against).toContain('pulse pressure 60 mmHg, not above 60 mmHg.');
    expect(rows['ventricle']!.against).toEqual(['end-diastolic ventricular pressure 18 mmHg, not above 18 mmHg (unverified).']);
    expect(rows['rate']!.against).toContain(`heart rate ${NORMAL.ratePerMin} /min, not above 100 /min (unverified).`);
  });
  test('of one number only the tightest rule of each bound is told; references to the list of checks are not', () => {
    const { method } = pressure({ ...NORMAL, endDiastolic: 12 });
    expect(method.match(/AR index/g)).toHaveLength(1);
    expect(method).toContain('above 27.2: at most 1');
    expect(method).not.toMatch(/checks|at most 3 \(Sinning/);
  });
  test('whether it is low cannot be said: the answer in words says so, and what is missing', () => {
    const say = (rules: VerdictInputs['rules']): readonly string[] => describeVerdict(decide(NORMAL, [echo('none')], { rules })).filter((l) => l.startsWith('Diastole'));
    expect(say(withRule('diastolic-low', null))).toEqual(['Diastole  Whether the diastolic pressure is low cannot be said: no signed limit for aortic diastolic pressure.']);
    expect(say(VERDICT_RULES)).toEqual([]);
  });
  test('all causes always, in one order', () => {
    for (const n of [{ ...NORMAL, diastolic: 40 }, { ...NORMAL, diastolic: 30, systolic: 80, endDiastolic: null }]) {
      expect(explain(n).rows.map((r) => r.cause)).toEqual(['leak', 'hypovolaemia', 'rate', 'vasoplegia', 'stiff-aorta', 'ventricle', 'line']);
    }
  });
  test('bleeding: low filling, narrow pulse, fast', () => {
    expect(weights({ systolic: 70, diastolic: 44, endDiastolic: 5, ratePerMin: 118, mean: 53, notchShare: 0.9 }, { isBleeding: true })).toMatchObject({ hypovolaemia: 'for', leak: 'against', rate: 'for', 'stiff-aorta': 'against', ventricle: 'against' });
  });
  test('stiff aorta: wide pulse with kept mean, wide before the valve too', () => {
    const stiff = { systolic: 170, diastolic: 48, endDiastolic: 14, ratePerMin: 70, mean: 89, notchShare: 0.9 };
    expect(weights(stiff, { pulseBeforeMmHg: 95, hasVasodilator: false })).toMatchObject({ 'stiff-aorta': 'for', vasoplegia: 'against', hypovolaemia: 'against', rate: 'against', leak: 'both ways' });
    expect(weights(stiff, { pulseBeforeMmHg: 45 })['stiff-aorta']).toBe('both ways');
  });
  test('a leak: high filling, wide pulse, notch lost; a stiff ventricle cannot be told from it by pressure alone', () => {
    expect(weights({ systolic: 140, diastolic: 38, endDiastolic: 28, ratePerMin: 76, mean: 72, notchShare: 0.05 })).toMatchObject({ leak: 'for', ventricle: 'for' });
  });
  test('slow heart: the long diastole is named', () => {
    expect(weights({ ...NORMAL, diastolic: 45, ratePerMin: 40 })['rate']).toBe('for');
  });
  test('what nobody measured or said is not known, never normal', () => {
    const rows = explain({ systolic: 100, diastolic: 45, endDiastolic: null, ratePerMin: 80, mean: 64.9, notchShare: null }).rows;
    expect(rows.find((r) => r.cause === 'ventricle')).toMatchObject({ weight: 'cannot say', for: [], against: [] });
    expect(rows.find((r) => r.cause === 'hypovolaemia')!.unknown).toEqual(expect.arrayContaining(['bleeding: nobody said.', 'effusion: nobody looked.', 'end-diastolic ventricular pressure is not measured.']));
  });
  test('a finding about the line speaks for the line', () => {
    expect(weights({ ...NORMAL, diastolic: 45, quality: [finding('zero-doubtful', 'Zero is doubtful.', 'Zero it.', 'doubt')] })['line']).toBe('for');
    // An untested line is neither clean nor at fault; one that was tested and found good is clean.
    expect(weights({ ...NORMAL, diastolic: 45, quality: [finding('line-unknown', 'No flush.', 'Flush it.', 'doubt')] })['line']).toBe('cannot say');
    expect(weights({ ...NORMAL, diastolic: 45, quality: [] })['line']).toBe('against');
  });
});
