import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, cpSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { runMain } from './main.ts';
import { parsePort, startVerb, VERBS, type AddVerb } from './verbs.ts';

const SECRET = 'DOE^JOHN';

/** A verb whose action does what the test says. */
function makeTrial(act: (options: Record<string, unknown>) => number | Promise<number>): AddVerb {
  return (program, _io, finish) =>
    startVerb(program, 'trial', 'a verb of the test', 'trinadir trial PATH --port 1')
      .argument('<path>')
      .option('--port <number>', 'a port', parsePort)
      .requiredOption('--out <folder>', 'a folder')
      .action(async (_path, options: Record<string, unknown>) => finish(await act(options)));
}
async function run(words: readonly string[], verbs?: readonly AddVerb[]): Promise<{ code: number; out: string; err: string }> {
  const said = { out: '', err: '' };
  const io = { out: (t: string) => void (said.out += t), err: (t: string) => void (said.err += t), isTerminal: false };
  const code = await runMain(words, io, verbs);
  return { code, ...said };
}
function readErrorLine(err: string): { code: string; text: string; next: string; where: string } {
  const lines = err.trimEnd().split('\n');
  return (JSON.parse(lines.at(-1)!) as { error: { code: string; text: string; next: string; where: string } }).error;
}

describe('runMain', () => {
  const trial = [makeTrial(() => 0)];

  test('gives the exit code of the verb', async () => {
    for (const code of [0, 2, 3, 5]) {
      expect((await run(['trial', 'x', '--out', 'y'], [makeTrial(() => code)])).code).toBe(code);
    }
  });
  test('hands over parsed options', async () => {
    let seen: Record<string, unknown> = {};
    await run(['trial', 'x', '--out', 'y', '--port', '8080', '--json', '--quiet'], [makeTrial((o) => ((seen = o), 0))]);
    expect(seen).toEqual({ out: 'y', port: 8080, json: true, quiet: true });
  });
  test('calls wrong usage by code, exit 2, last line of standard error, nothing on standard output', async () => {
    const cases: readonly (readonly [string, readonly string[]])[] = [
      ['option-unknown', ['trial', 'x', '--out', 'y', '--colour', 'red']],
      ['option-unknown', ['--colour']],
      ['option-invalid', ['trial', 'x', '--out', 'y', '--port', '65536']],
      ['option-invalid', ['trial', 'x', '--out', 'y', '--port', '-1']],
      ['option-invalid', ['trial', 'x', '--out', 'y', '--port', SECRET]],
      ['option-without-value', ['trial', 'x', '--out']],
      ['option-missing', ['trial', 'x']],
      ['argument-missing', ['trial', '--out', 'y']],
      ['usage-wrong', ['trial', 'x', SECRET, '--out', 'y']],
      ['verb-unknown', [SECRET]],
    ];
    for (const [code, words] of cases) {
      const json = await run([...words.slice(0, 1), '--json', ...words.slice(1)], trial);
      expect([json.code, json.out], words.join(' ')).toEqual([2, '']);
      const error = readErrorLine(json.err);
      expect(error.code, words.join(' ')).toBe(words[0] === '--colour' ? 'option-unknown' : code);
      expect(error.where).toBe(words[0] === 'trial' ? 'trial' : 'trinadir');
      expect(error.text.length > 0 && error.next.length > 0).toBe(true);
      expect(Object.keys(error)).toEqual(['code', 'text', 'next', 'where']);

      const human = await run(words, trial);
      expect([human.code, human.out]).toEqual([2, '']);
      expect(human.err).toContain(code);
      for (const text of [json.err, human.err]) {
        expect(text).not.toContain(SECRET); // what was typed may hold a name
        expect(text).not.toMatch(/\n\s+at /);
      }
    }
  });
  test('without words prints the help on standard error, exit 2', async () => {
    const { code, out, err } = await run([], trial);
    expect([code, out]).toEqual([2, '']);
    expect(err).toContain('trial');
    expect(err).toContain(HOUSE_EN.caution);
  });
  test('a defect ends with 4 and a report without message, path or argument', async () => {
    const broken = [makeTrial(() => { throw new TypeError(`cannot read /data/${SECRET}/IM1`); })];
    for (const json of [true, false]) {
      const { code, out, err } = await run(['trial', `/data/${SECRET}`, '--out', 'y', ...(json ? ['--json'] : [])], broken);
      expect([code, out]).toEqual([4, '']);
      expect(err).not.toMatch(/\n\s+at /);
      expect(err).toContain('defect');
      if (json) expect(readErrorLine(err).code).toBe('defect');
      const file = /\S+report\.txt/.exec(err)![0].replace(/^.*?(?=\/|[A-Z]:)/, '');
      const report = readFileSync(file, 'utf8');
      rmSync(dirname(file), { recursive: true });
      for (const text of [report, err]) expect(text).not.toContain(SECRET);
      expect(report).toContain('TypeError');
      expect(report).toContain('src/host/cli/main.test.ts:');
      expect(report).not.toContain(fileURLToPath(new URL('../../..', import.meta.url)));
    }
  });
});

describe('the verbs', () => {
  const names: string[] = [];
  test('each shows one worked line in its help, and --help answers with 0 on standard output', async () => {
    const top = await run(['--help']);
    expect([top.code, top.err]).toEqual([0, '']);
    expect(top.out).toContain(HOUSE_EN.caution);
    for (const line of top.out.matchAll(/^ {2}([a-z]+) \[options\]/gm)) names.push(line[1]!);
    expect(names.length).toBe(VERBS.length);
    for (const name of names) {
      const { code, out, err } = await run([name, '--help']);
      expect([code, err]).toEqual([0, '']);
      expect([...out.matchAll(new RegExp(`^ {2}trinadir ${name}( |$)`, 'gm'))].length, name).toBe(1);
    }
  });
  test('--version prints name and version', async () => {
    const { code, out } = await run(['--version']);
    expect([code, /^trinadir \d+\.\d+\.\d+\n$/.test(out)]).toEqual([0, true]);
  });
});

describe('bin/trinadir.mjs', () => {
  const top = fileURLToPath(new URL('../../..', import.meta.url));
  test('runs what was built', () => {
    expect(existsSync(join(top, 'dist/host/cli/main.js')), 'dist is missing: npm run setup').toBe(true);
    expect(execFileSync(process.execPath, [join(top, 'bin/trinadir.mjs'), '--version'], { encoding: 'utf8' })).toMatch(/^trinadir /);
  });
  test('says what to do when nothing is built, exit 2', () => {
    const folder = mkdtempSync(join(tmpdir(), 'trinadir-bin-'));
    cpSync(join(top, 'bin'), join(folder, 'bin'), { recursive: true });
    for (const words of [[], ['--json']]) {
      const outcome = spawnSync(process.execPath, [join(folder, 'bin/trinadir.mjs'), 'plan', ...words], { encoding: 'utf8' });
      expect([outcome.status, outcome.stdout]).toEqual([2, '']);
      expect(outcome.stderr).toContain('npm run setup');
      if (words.length > 0) expect(readErrorLine(outcome.stderr).code).toBe('not-built');
    }
    rmSync(folder, { recursive: true });
  });
});
