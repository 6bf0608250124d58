import { describe, expect, test } from 'vitest';
import { CLOCK, finding, makePressureAnswer, NO_ENTRIES, NO_SIGNS, VERDICT_RULES, witness } from '../../../test/support/verdict-fixtures.ts';
import { composeVerdict, type VerdictAnswer, type VerdictInputs } from '../../core/verdict/compose-verdict.ts';
import { VERDICT_EN } from '../../core/text/verdict-en.ts';
import { REMEDIES } from '../../core/verdict/verdict-types.ts';
import { describeBars, drawWitnessBars } from './draw-witness-bars.ts';
import { drawVerdict, type DrawnVerdict } from './make-result-section.ts';
import { makeResultSheet } from './make-result-sheet.ts';

const words = { id: 'test-bars', nameOf: (id: string) => `Dr <${id}>`, formatTime: (at: string) => at.slice(11, 16) };
const INPUTS: VerdictInputs = {
  clock: CLOCK, present: ['one'], grades: [{ by: 'one', at: '2026-03-02T10:15:00.000Z', interval: [1, 1], kind: null }], witnesses: [], rules: VERDICT_RULES,
  valve: { kind: 'self-expanding', isWaitAllowed: null, size: null }, root: null, balloonsMm: [], second: null, pressure: null, entries: NO_ENTRIES, signs: NO_SIGNS, gaps: null, seen: null,
};
const compose = (change: Partial<VerdictInputs>): VerdictAnswer => composeVerdict({ ...INPUTS, ...change });
const draw = (change: Partial<VerdictInputs>): DrawnVerdict => {
  const drawn = drawVerdict(compose(change), [], words);
  if (drawn === null) throw new Error('hidden');
  return drawn;
};
const AGREE = { witnesses: [witness('pressure', [0, 1]), witness('echo', [1, 1]), witness('angiogram', [0, 1])] };
const DISAGREE = { witnesses: [witness('pressure', [0, 1]), witness('echo', [3, 4])] };

describe('the drawn verdict', () => {
  test('nothing is drawn of a verdict that is hidden', () => {
    expect(drawVerdict(compose({ ...AGREE, grades: [] }), [], words)).toBeNull();
    expect(makeResultSheet(compose({ ...AGREE, grades: [] }), { label: 'A', answerSha256: 'ab', shownAt: CLOCK.nowAt, readers: [], decided: [], nameOf: (i) => i })).toBeNull();
  });
  test('each word stands alone before what it means; the bars say in words what they show', () => {
    expect([draw(AGREE).word, draw(DISAGREE).word, draw({ witnesses: [witness('echo', [1, 2])] }).word, draw({ witnesses: [witness('echo', [1, 2]), witness('pressure', [1, 3])] }).word, draw({}).word])
      .toEqual(['AGREE', 'DISAGREE', 'ONE WITNESS ONLY', 'NOT SETTLED', 'CANNOT SAY']);
    expect(draw(AGREE).say).toBe('mild (1), below the decision line.');
    expect(describeBars(compose(AGREE).verdict!)).toBe('Pressures: 0 to 1. Echo: 1. Angiogram: 0 to 1. Common to all: 1.');
    expect(describeBars(compose(DISAGREE).verdict!)).toBe('Pressures: 0 to 1. Echo: 3 to 4. Angiogram: not taken. Nothing is common to all.');
    const silent = compose({ witnesses: [witness('echo', [1, 2], { loadingNote: null }), witness('pressure', [0, 1])] });
    expect(describeBars(silent.verdict!)).toContain('Echo: may not speak.');
  });
  test('the pictures of agreement and of disagreement, for the eye', async () => {
    await expect(drawWitnessBars(compose(AGREE).verdict!, { id: 'agree', isTraining: true })).toMatchFileSnapshot('./__snapshots__/witness-bars-agree.svg');
    await expect(drawWitnessBars(compose(DISAGREE).verdict!, { id: 'disagree', isTraining: false })).toMatchFileSnapshot('./__snapshots__/witness-bars-disagree.svg');
  });
  test('all six remedies stand in their order, each condition with a sign and a word', () => {
    const { remedies } = draw(AGREE);
    const places = REMEDIES.map((code) => remedies.indexOf(`>${VERDICT_EN[`remedy-${code}`]}<`));
    expect(places.every((at, i) => at > (places[i - 1] ?? 0))).toBe(true);
    expect(remedies).toContain('✗ no: ');
    expect(remedies).toContain('? not known: ');
  });
  test('a low diastole is explained cause by cause; without pressures nothing is said of it', () => {
    const low = draw({ witnesses: [witness('echo', [0, 1])], pressure: makePressureAnswer({ systolic: 120, diastolic: 38, endDiastolic: 12, ratePerMin: 72 }) });
    for (const cause of ['leak', 'hypovolaemia', 'rate', 'vasoplegia', 'stiff-aorta', 'ventricle', 'line'] as const) expect(low.diastole).toContain(VERDICT_EN[`cause-${cause}`].split(' (')[0]);
    expect(draw(AGREE).diastole).not.toContain('<table');
  });
  test('names and words of persons are escaped, also in the doubts of a void witness', () => {
    const drawn = draw({ witnesses: [witness('pressure', null, { by: 'one', reasons: [finding('line-damped', '<b>damped</b>', 'Flush.')] }), witness('echo', [1, 1], { loadingNote: '<script>' })] });
    expect(drawn.witnesses).toContain('Dr &lt;one&gt;');
    for (const part of Object.values(drawn)) expect(part).not.toMatch(/<script>|<b>damped/);
  });
});

describe('the result for paper', () => {
  const sheet = makeResultSheet(compose(AGREE), {
    label: 'A 7', answerSha256: 'ab12cd34'.repeat(8), shownAt: '2026-03-02T10:16:00.000Z', readers: ['one'], nameOf: () => 'Reader One',
    decided: [{ decision: 'finish', because: 'all below', answerSha256: 'ab12cd34'.repeat(8), by: 'one', at: '2026-03-02T10:17:00.000Z' }, { decision: 'wait', because: 'guess', answerSha256: null, by: 'one', at: '2026-03-02T10:12:00.000Z' }],
  })!;
  test('names case, code, readers, decisions, and which of them had no verdict before it', () => {
    expect(sheet.about).toContain('A 7');
    expect(sheet.about).toContain('ab12 cd34');
    expect(sheet.answer).toContain('AGREE');
    expect(sheet.next).toContain('Finish: Reader One, 2026-03-02 10:17:00 UTC. Because: all below');
    expect(sheet.next.match(/No verdict had been looked at/g)).toHaveLength(1);
    expect(sheet.isTraining).toBe(true);
  });
});
