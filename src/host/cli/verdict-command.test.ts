import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { replay } from '../../../test/support/seed.ts';
import type { VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import type { Situation } from '../../core/verdict/situation-types.ts';
import { parseSituation } from '../../formats/tables/parse-situation.ts';
import { EXIT } from './exit-codes.ts';
import { runVerdictCommand } from './verdict-command.ts';

const EXAMPLES = fileURLToPath(new URL('../../../examples/situations', import.meta.url));
let dir = '';
beforeAll(() => void (dir = mkdtempSync(join(tmpdir(), 'verdict-'))));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

async function run(named: string, more: { readonly json?: boolean; readonly rules?: string } = {}): Promise<{ readonly code: number; readonly out: string; readonly err: string }> {
  let [out, err] = ['', ''];
  const code = await runVerdictCommand({ named, dataFolder: join(dir, 'none'), ...more }, { out: (t) => void (out += t), err: (t) => void (err += t), isTerminal: false });
  return { code, out, err };
}
const read = (name: string): Situation => JSON.parse(readFileSync(join(EXAMPLES, name), 'utf8')) as Situation;
function put(content: unknown, name = 'mine.json'): string {
  const path = join(dir, name);
  writeFileSync(path, typeof content === 'string' ? content : JSON.stringify(content));
  return path;
}

describe('trinadir verdict on the eight described situations', () => {
  const WANTED: Readonly<Record<string, readonly [word: string, side: 'below' | 'above' | null, next: RegExp]>> = {
    '1-agree-none.json': ['AGREE', 'below', /^The operator decides/],
    '2-agree-mild.json': ['AGREE', 'below', /^The operator decides/],
    '3-agree-severe.json': ['AGREE', 'above', /remedy board/],
    '4-disagree.json': ['DISAGREE', null, /^Take the run again/],
    '5-one-witness.json': ['ONE WITNESS ONLY', null, /^Measure again: the manoeuvre/],
    '6-low-diastole-without-leak.json': ['DISAGREE', null, /^Ask what was given; measure again when its effect is over/],
    '7-tachycardia.json': ['NOT SETTLED', null, /^One aortogram/],
    '8-damped-line.json': ['ONE WITNESS ONLY', null, /^Flush the line and record again/],
  };
  test('all eight are there, each invented and said to be', () => {
    expect(readdirSync(EXAMPLES).filter((n) => n.endsWith('.json')).sort()).toEqual(Object.keys(WANTED));
    for (const name of Object.keys(WANTED)) expect(read(name)).toMatchObject({ training: true, title: expect.stringMatching(/^INVENTED FOR TRAINING/) });
  });
  for (const [name, [word, side, next]] of Object.entries(WANTED)) {
    test(`${name}: the right word, the right next measurement`, async () => {
      const { code, out, err } = await run(join(EXAMPLES, name), { json: true });
      expect([code, err]).toEqual([EXIT.answered, '']);
      const answer = JSON.parse(out) as VerdictAnswer;
      expect([answer.verdict!.word, answer.verdict!.side, answer.isTraining]).toEqual([word, side, true]);
      expect(answer.next).toMatch(next);
      expect(answer.remedies!.map((r) => r.code)).toEqual(['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery']);
    });
  }
  test('1, 2: the leak is none, and mild; the balloon is not named below the line', async () => {
    for (const [name, common] of [['1-agree-none.json', [0, 0]], ['2-agree-mild.json', [1, 1]]] as const) {
      expect((JSON.parse((await run(join(EXAMPLES, name), { json: true })).out) as VerdictAnswer).verdict!.common).toEqual(common);
    }
  });
  test('6: every cause of a low diastolic pressure is laid out, the vasodilator among what speaks for one', async () => {
    const { lowDiastole } = JSON.parse((await run(join(EXAMPLES, '6-low-diastole-without-leak.json'), { json: true })).out) as VerdictAnswer;
    expect(lowDiastole!.rows.map((r) => r.cause)).toEqual(['leak', 'hypovolaemia', 'rate', 'vasoplegia', 'stiff-aorta', 'ventricle', 'line']);
    expect(lowDiastole!.rows.find((r) => r.cause === 'vasoplegia')!.weight).toBe('for');
  });
  test('in words: the answer first, who and when, what settles, waiting, remedies; never a percentage of risk', async () => {
    const { out } = await run(join(EXAMPLES, '4-disagree.json'));
    const lines = out.trimEnd().split('\n');
    expect(lines[0]).toMatch(/^TRAINING/);
    expect(lines[2]).toMatch(/^Answer {2}DISAGREE/);
    expect(out).toMatch(/From the pressures: .*First operator, 4 min after release, 72 \/min/);
    for (const part of ['\nSettle  ', '\nWait    ', '\nNext    ', '\n  Post-dilate: ']) expect(out).toContain(part);
    expect(out).not.toMatch(/\{\w+\}|undefined|NaN|risk of \d/);
  });
});

describe('trinadir verdict refuses and hides', () => {
  const base = read('4-disagree.json');
  test('without a grade of every present reader nothing of any witness is shown, exit 3', async () => {
    const hidden = { ...base, grades: base.grades.slice(0, 1) };
    const json = await run(put(hidden), { json: true });
    expect(json.code).toBe(EXIT.refused);
    expect(JSON.parse(json.out)).toMatchObject({ verdict: null, remedies: null, gate: { isOpen: false, waitingFor: ['Echo reader'] } });
    const words = await run(put(hidden));
    expect(words.out).toContain('Echo reader');
    expect(words.out).not.toMatch(/DISAGREE|exclude/);
  });
  test('a balloon after the grades begins a new round', async () => {
    const answer = await run(put({ ...base, manoeuvreAt: '2026-03-02T10:16:00.000Z' }), { json: true });
    expect(JSON.parse(answer.out)).toMatchObject({ verdict: null, gate: { waitingFor: ['First operator', 'Echo reader'] } });
  });
  test('without rules nothing is settled; training rules do not act on what is not training', async () => {
    const answer = JSON.parse((await run(put({ ...base, training: false }), { json: true })).out) as VerdictAnswer;
    expect(answer.isTraining).toBe(false);
    expect(answer.verdict!.speaking.map((w) => w.kind)).toEqual(['echo']);
    expect(answer.verdict!.silent.every((w) => w.reasons.some((r) => r.code === 'no-leak-rule'))).toBe(true);
  });
  test('bad files are refused by name, without what stood in them', async () => {
    const bad: readonly [unknown, string][] = [
      ['{', 'file-not-json'], [{ ...base, format: 'x' }, 'situation-invalid'], [{ ...base, patientName: 'Somebody' }, 'situation-invalid'],
      [{ ...base, echo: { ...base.echo!, entries: { 'somebody-here': 3 } } }, 'situation-invalid'], [{ ...base, pressures: { ...base.pressures!, systolic: { value: 13, halfWidth95: -1 } } }, 'situation-invalid'],
      [{ ...base, grades: [{ by: 'A', at: base.nowAt, low: 3, high: 1 }] }, 'situation-invalid'], [{ ...base, entries: { 'signs.leakPlace': 'somewhere' } }, 'situation-invalid'],
    ];
    for (const [content, code] of bad) {
      const { code: exit, err, out } = await run(put(content), { json: true });
      expect([exit, out, JSON.parse(err.trim().split('\n').at(-1)!).error.code]).toEqual([EXIT.refused, '', code]);
      expect(err).not.toMatch(/Somebody|somebody-here|somewhere/);
    }
    expect((await run(join(dir, 'nothing-here.json'))).code).toBe(EXIT.refused);
    expect((await run('no-such-case', { rules: 'rules.json' })).code).toBe(EXIT.usage);
  });
  test('parseSituation never throws (seeded)', () => {
    fc.assert(fc.property(fc.oneof(fc.jsonValue({ maxDepth: 4 }), fc.tuple(fc.constantFrom(...Object.keys(base)), fc.jsonValue({ maxDepth: 2 })).map(([key, v]) => ({ ...base, [key]: v }))), (content) => {
      const parsed = parseSituation(content);
      expect(parsed.ok || parsed.failure.code === 'situation-invalid').toBe(true);
    }), replay);
  });
});
