import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { drawRecording, GOOD_LINE } from '../../core/phantom/draw-line.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../../core/phantom/simulate-circulation.ts';
import type { VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { runMain } from './main.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-case-result-'));
afterAll(() => rmSync(top, { recursive: true, force: true }));
const at = (name: string): string => join(top, name);
const put = (name: string, content: unknown): string => {
  writeFileSync(at(name), typeof content === 'string' ? content : JSON.stringify(content));
  return at(name);
};
interface Said { readonly code: number; readonly out: string; readonly err: string }
async function run(...words: readonly string[]): Promise<Said> {
  const said = { out: '', err: '' };
  const io: CommandIo = { out: (t) => void (said.out += t), err: (t) => void (said.err += t), isTerminal: false };
  return { code: await runMain(words, io), ...said };
}
async function done(...words: readonly string[]): Promise<Record<string, unknown>> {
  const said = await run(...words, '--json');
  expect([words.join(' '), said.code, said.err]).toEqual([words.join(' '), 0, '']);
  return JSON.parse(said.out) as Record<string, unknown>;
}
const errorOf = ({ err }: Said): string => (JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string } }).error.code;
const ago = (seconds: number): string => new Date(Date.now() - seconds * 1000).toISOString();
const writeCsv = ({ channels: [ao, lv] }: Recording): string => `time [s],AO [mmHg],LV [mmHg]\n${Array.from(ao!.samples, (p, i) => `${(i / 250).toFixed(3)},${p.toFixed(2)},${lv!.samples[i]!.toFixed(2)}`).join('\n')}\n`;
const CSV = writeCsv(drawRecording(simulateCirculation({ ...PLAIN_CIRCULATION, leakAreaCm2: 0 }, 14, 250, 3), { aortic: GOOD_LINE, ventricular: GOOD_LINE }, 1));
const entries = (parts: object): object => ({ format: 'trinadir.entries/1', ...parts });

describe('a case folder filled from the command line, up to its verdict', () => {
  const dir = at('case');
  const note = { heartRatePerMin: 72, loadingNote: 'awake' };
  test('recording, echo, notes, readers and grades go in; the verdict stays hidden until both have graded', async () => {
    await done('case', 'new', dir, '--label', 'A 7', '--training');
    await done('case', 'log', dir, '--kind', 'phase', '--data', '{"phase":"released"}');
    const csv = put('after.csv', CSV);
    const takenAt = ago(0);
    expect(errorOf(await run('case', 'add', dir, csv, '--moment', 'after', '--json'))).toBe('added-beside-missing');
    expect(errorOf(await run('case', 'add', dir, csv, '--moment', 'after', '--taken-at', takenAt, '--json'))).toBe('file-identity-open');
    const beside = ['--moment', 'after', '--taken-at', takenAt, '--because', 'Invented for a test'] as const;
    expect(await done('case', 'add', dir, csv, ...beside)).toMatchObject({ added: 'recording', events: 1 });
    expect(await done('case', 'add', dir, csv, ...beside)).toMatchObject({ events: 0 });
    const echo = { echo: { echoId: 'echo-one', takenAt, entries: { circumference: 5, 'leak-place': 'beside the frame' } }, witnesses: [{ of: 'recording', takenAt, ...note }, { of: 'echo', takenAt, ...note }] };
    expect(await done('case', 'add', dir, put('echo.json', entries({ ...echo, readers: ['reader-one', 'reader-two'], result: { 'circulation.isStable': true }, ecg: { post: { at: takenAt, rhythm: 'sinus', prMs: 170, qrsMs: 96, ratePerMin: 72, hvMs: null, bundleBlock: 'none', avBlock: 'none' } } })))).toMatchObject({ events: 8 });
    const hidden = await run('verdict', dir, '--json');
    expect([hidden.code, (JSON.parse(hidden.out) as VerdictAnswer).verdict]).toEqual([EXIT.refused, null]);
    for (const [by, low, high] of [['reader-one', 0, 1], ['reader-two', 1, 1]] as const) {
      await done('case', 'add', dir, put('grade.json', entries({ grade: { of: 'overall', low, high, takenAt, ...note } })), '--by', by);
    }
    const answer = await done('verdict', dir) as unknown as VerdictAnswer;
    expect(answer.gate.isOpen).toBe(true);
    expect(answer.verdict!.speaking.map((w) => w.kind)).toEqual(['pressure', 'echo']);
    expect(answer.isTraining).toBe(true);
  });

  test('the archive of the case gives the same verdict, and the audit is whole', async () => {
    const zip = at('case.trinadir.zip');
    await done('case', 'export', dir, '--out', zip, '--zip');
    const [ofFolder, ofZip] = [await done('verdict', dir), await done('verdict', zip)] as unknown as readonly VerdictAnswer[];
    expect(ofZip!.verdict).toEqual(ofFolder!.verdict);
    expect(await done('audit', 'verify', zip)).toMatchObject({ events: expect.any(Number) });
    const shown = (await done('case', 'show', dir)) as { documents: { kind: string; isThere: boolean }[] };
    expect(shown.documents.filter((d) => ['pressure', 'grade'].includes(d.kind)).map((d) => [d.kind, d.isThere])).toEqual([['pressure', true], ['grade', true], ['grade', true]]);
  });

  test('no log shows a grade; what does not fit is refused whole', async () => {
    expect(readFileSync(join(dir, 'events.ndjson'), 'utf8')).not.toMatch(/nonce|"low"|"high"/);
    const bad: readonly [object, string][] = [
      [{ result: { 'nobody.knows': 1 } }, 'entries-invalid'], [{ echo: { echoId: 'echo-one', takenAt: ago(1), entries: { circumference: 200 } } }, 'entries-invalid'],
      [{ grade: { of: 'overall', low: 3, high: 1, takenAt: ago(1), ...note } }, 'entries-invalid'], [{ witnesses: [{ of: 'angiogram', takenAt: ago(1), ...note }] }, 'witness-unknown'], [{}, 'entries-empty'],
    ];
    for (const [content, code] of bad) expect(errorOf(await run('case', 'add', dir, put('bad.json', entries(content)), '--json'))).toBe(code);
    expect(errorOf(await run('case', 'add', dir, put('bad.bin', '\u0000\u0001'), '--echo', 'echo-two', '--taken-at', ago(1), '--json'))).not.toBe('none');
  });
});
