import { describe, expect, test } from 'vitest';
import type { RuleSet } from '../device/device-types.ts';
import type { Fact } from '../units/fact.ts';
import { makeFact } from '../units/fact.ts';
import { VERDICT_PROPOSALS } from '../verdict/verdict-rules.ts';
import type { EchoEntries } from './echo-fields.ts';
import { ECHO_PROPOSALS, MISMATCH_VARC2 } from './echo-rules.ts';
import { NO_CONTEXT, type EchoAnswer, type EchoCheckCode, type EchoContext } from './echo-types.ts';
import { judgeMismatch } from './judge-words.ts';
import { makeEchoWitness } from './make-echo-witness.ts';
import { measureEcho } from './measure-echo.ts';

const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };
const RULES: RuleSet = { format: 'trinadir.rules/1', hospital: 'Training', signedBy: 'test', signedAt: '2026-01-05T08:00:00Z', training: true, rules: [...VERDICT_PROPOSALS, ...ECHO_PROPOSALS] };
const WHO = { by: 'Reader One', at: STAMP.at, heartRatePerMin: 72, loadingNote: 'no pressor', from: ['test'] };
const measure = (entries: EchoEntries, context: Partial<EchoContext> = {}, rules: RuleSet | null = RULES): EchoAnswer => measureEcho(entries, { ...NO_CONTEXT, ...context }, rules, STAMP);
const codes = (answer: EchoAnswer): readonly EchoCheckCode[] => answer.checks.map((c) => c.code);
const aorta = (cm2: number): Fact => makeFact(cm2, cm2 - 0.2, cm2 + 0.2, 'cm2', 'test', [], STAMP);

/** A sound study: 2.0 cm, 20 and 30 cm, 1.0 and 1.5 m/s. */
const SOUND: EchoEntries = { 'outflow-diameter': 2, 'outflow-vti': 20, 'valve-vti': 32, 'outflow-velocity': 1, 'valve-velocity': 1.6, 'valve-mean-gradient': 5, 'valve-peak-gradient': 10, 'heart-rate': 70 };
const WITH_BODY: Partial<EchoContext> = { heightCm: 170, weightKg: 70 };

describe('measureEcho', () => {
  test('a sound study has no check, and its numbers are those of the formulas', () => {
    const answer = measure(SOUND, { ...WITH_BODY, junctionAreaCm2: aorta(6.6) });
    expect(answer.checks).toEqual([]);
    expect(answer.flow.outflowArea.value).toBeCloseTo(Math.PI, 9);
    expect(answer.flow.stroke.value).toBeCloseTo(62.83185, 4); // EC-07
    expect(answer.valve.index.value).toBeCloseTo(0.625, 9);
    expect(answer.valve.area.value).toBeCloseTo(Math.PI * 0.625, 9);
    expect(answer.valve.peakGradient.value).toBeCloseTo(10.24, 9);
    const settled = [answer.valve.area, answer.flow.stroke, answer.valve.peakGradient, answer.valve.energyLossIndexed, answer.valve.recoveredGradient];
    expect(settled.map((f) => f.status)).toEqual(settled.map(() => 'settled'));
    for (const fact of settled) expect(fact.low! < fact.value! && fact.value! < fact.high!).toBe(true);
  });
  test('what is not entered is refused by name, never taken as normal', () => {
    const answer = measure({ 'valve-velocity': 2 });
    expect(answer.valve.area.status).toBe('refused');
    expect(answer.valve.area.reasons[0]!.code).toBe('echo-not-entered');
    expect(answer.valve.area.reasons[0]!.text).toContain('Outflow tract diameter');
    expect(answer.mismatch.from).toBe('cannot say');
    expect(answer.seen).toBeNull();
  });
  test('a velocity in cm/s is refused with the unit it looks like, and not converted', () => {
    const answer = measure({ ...SOUND, 'valve-velocity': 160 });
    expect(codes(answer)).toContain('unit-looks-wrong');
    expect(answer.checks[0]!.text).toContain('cm/s');
    expect(answer.valve.peakVelocity.reasons[0]!.code).toBe('unit-looks-wrong');
  });
  test.each<readonly [EchoCheckCode, EchoEntries, Partial<EchoContext>]>([
    ['entry-impossible', { 'valve-velocity': 12 }, {}],
    ['unit-looks-wrong', { 'outflow-diameter': 20 }, {}],
    ['peak-gradient-differs', { 'valve-peak-gradient': 40 }, {}],
    ['mean-above-peak', { 'valve-mean-gradient': 12 }, {}],
    ['mean-low-for-peak', { 'valve-mean-gradient': 0.5 }, {}],
    ['time-integral-unlike-velocity', { 'valve-vti': 150, 'outflow-vti': 70 }, {}],
    ['ratios-differ', { 'outflow-vti': 9 }, {}],
    ['index-above-one', { 'outflow-vti': 40 }, {}],
    ['area-above-outflow', { 'valve-area': 5 }, {}],
    ['area-differs', { 'valve-area': 1 }, {}],
    ['area-above-aorta', {}, { junctionAreaCm2: aorta(0.9) }],
    ['stroke-differs', { 'stroke-volume': 110 }, {}],
    ['reference-above-stroke', { 'reference-stroke': 120 }, {}],
    ['volume-above-stroke', { 'regurgitant-volume': 130 }, {}],
    ['volume-differs', { 'regurgitant-volume': 50, 'reference-stroke': 58 }, {}],
    ['fraction-differs', { 'regurgitant-volume': 10, 'regurgitant-fraction': 60 }, {}],
    ['orifice-differs', { 'regurgitant-orifice': 0.5, 'isovelocity-radius': 0.5, 'isovelocity-alias': 40, 'leak-velocity': 4.5 }, {}],
    ['orifice-volume-differs', { 'regurgitant-volume': 50, 'regurgitant-orifice': 0.1, 'leak-vti': 150 }, {}],
    ['extent-differs', { circumference: 60, 'jet-1-from': 1, 'jet-1-to': 2 }, {}],
    ['jet-incomplete', { 'jet-1-from': 1 }, {}],
    ['jet-cusp-differs', { 'jet-1-from': 3.5, 'jet-1-to': 4, 'jet-1-cusp': 'R', 'clock-r': 12, 'clock-next': 'L' }, {}],
    ['half-time-beyond-diastole', { 'half-time': 60, 'heart-rate': 50 }, {}],
    ['grade-order', { 'leak-from': 'severe', 'leak-to': 'mild' }, {}],
    ['leak-denied', { 'leak-place': 'none seen', circumference: 20 }, {}],
    ['body-surface-differs', { 'body-surface': 2.6 }, WITH_BODY],
    ['catheter-differs', {}, { catheterMeanGradient: makeFact(15, 14, 16, 'mm[Hg]', 'test', [], STAMP) }],
    ['clock-order', { 'jet-1-from': 3, 'jet-1-to': 4, 'clock-r-l': 1, 'clock-l-n': 2, 'clock-n-r': 3 }, {}],
    ['clock-marks-missing', { 'jet-1-from': 3, 'jet-1-to': 4 }, {}],
    ['image-poor', { 'image-quality': 'poor' }, {}],
  ])('names %s with a next step', (code, change, context) => {
    const answer = measure({ ...SOUND, ...change }, context);
    expect(codes(answer)).toContain(code);
    const check = answer.checks.find((c) => c.code === code)!;
    expect(check.text).not.toMatch(/[{}]/);
    expect(check.next.length).toBeGreaterThan(5);
  });
  test('an unknown field is named and left out', () => {
    expect(codes(measure({ ...SOUND, 'not-a-field': 3 } as EchoEntries))).toEqual(['field-unknown']);
  });
  test('a number that contradicts another is taken out of the witness, and neither is averaged', () => {
    const answer = measure({ ...SOUND, 'regurgitant-volume': 130 });
    expect(answer.leak['regurgitant-volume'].value).toBe(130);
    expect(answer.leak['regurgitant-volume'].status).toBe('doubtful');
    expect(answer.measures.find((m) => m.code === 'regurgitant-volume')!.value).toBeNull();
    const witness = makeEchoWitness(answer, WHO, RULES);
    expect(witness.isValid).toBe(false);
    expect(witness.reasons.map((r) => r.code)).toContain('volume-above-stroke');
  });
});

describe('makeEchoWitness', () => {
  const said = (entries: EchoEntries, rules: RuleSet | null = RULES): readonly [unknown, boolean] => {
    const { interval, isValid } = makeEchoWitness(measure(entries), WHO, rules);
    return [interval, isValid];
  };
  test('numbers, reversal and words narrow one another', () => {
    expect(said({ circumference: 20 })).toEqual([[2, 3], true]);
    expect(said({ reversal: 'intermediate' })).toEqual([[2, 3], true]);
    expect(said({ circumference: 20, 'leak-from': 'moderate', 'leak-to': 'moderate' })).toEqual([[2, 2], true]);
    expect(said({ reversal: 'brief' })).toEqual([[0, 1], true]);
    expect(said({ reversal: 'holodiastolic' })).toEqual([[4, 4], true]); // EC-14
  });
  test('a class of two words does not read as a span', () => {
    expect(makeEchoWitness(measure({ 'leak-from': 'moderate to severe', 'leak-to': 'severe' }), WHO, RULES).method).toContain('moderate-to-severe to severe.');
  });
  test('one that excludes another makes the witness contradict itself', () => {
    const witness = makeEchoWitness(measure({ circumference: 20, reversal: 'holodiastolic' }), WHO, RULES);
    expect([witness.interval, witness.isValid]).toEqual([null, false]);
    expect(witness.reasons.at(-1)!.code).toBe('witness-contradicts-itself');
    expect(said({ circumference: 4, 'regurgitant-orifice': 0.5 })).toEqual([null, false]);
  });
  test('a gradient that cannot be is no doubt about the leak; a stroke volume that the leak rests on is one', () => {
    const codesOf = (entries: EchoEntries): readonly string[] => makeEchoWitness(measure(entries), WHO, RULES).reasons.map((r) => r.code);
    expect(codesOf({ ...SOUND, 'valve-mean-gradient': 12, circumference: 20 })).toEqual([]);
    expect(codesOf({ ...SOUND, 'stroke-volume': 110, 'reference-stroke': 50 })).toContain('stroke-differs');
  });
  test('without signed rules only the reader’s own words speak', () => {
    expect(said({ circumference: 20, reversal: 'holodiastolic' }, null)).toEqual([null, false]);
    expect(said({ circumference: 20, 'leak-from': 'mild' }, null)).toEqual([[1, 1], true]);
  });
  test('a width counts for a central jet only', () => {
    expect(said({ 'jet-width': 75, 'leak-place': 'through the leaflets' })).toEqual([[4, 4], true]);
    expect(said({ 'jet-width': 75, 'leak-place': 'beside the frame' })).toEqual([null, false]);
  });
});

describe('mismatch', () => {
  const word = (areaIndexed: number, bmi: number, rules: RuleSet = RULES): string => {
    const fact = makeFact(areaIndexed, areaIndexed, areaIndexed, 'cm2/m2', 'test', [], STAMP);
    const mass = makeFact(bmi, bmi, bmi, 'kg/m2', 'test', [], STAMP);
    const { from, to } = judgeMismatch(fact, mass, rules);
    expect(from).toBe(to);
    return from;
  };
  test('EC-10: the printed values', () => {
    expect([[0.86, 25], [0.85, 25], [0.65, 25], [0.7, 31], [0.55, 31]].map(([a, b]) => word(a!, b!))).toEqual(['none', 'moderate', 'severe', 'moderate', 'severe']);
    expect([word(0.71, 31), word(0.56, 31), word(0.66, 25), word(0.7, 30), word(0.7, 29.9)]).toEqual(['none', 'moderate', 'moderate', 'moderate', 'moderate']);
  });
  test('EC-11: 0.58 at 31 kg/m2 is severe by the older rule and moderate by the newer', () => {
    expect(word(0.58, 31, { ...RULES, rules: MISMATCH_VARC2 })).toBe('severe');
    expect(word(0.58, 31)).toBe('moderate');
  });
});
