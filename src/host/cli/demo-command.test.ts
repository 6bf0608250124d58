import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { fail, succeed } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEMO_EN } from '../../core/text/demo-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { parsePatient } from '../../formats/tables/parse-patient.ts';
import { exitOfDesk } from './exit-codes.ts';
import { runDemoCommand, type DemoOptions, type DemoSteps } from './demo-command.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-demo-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

const DESK = 'http://127.0.0.1:8471/start/secret';
interface Heard { out: string; err: string; steps: unknown[] }
function makeTrial(codes: { ct?: number; plan?: number; result?: number; desk?: string } = {}): Heard & { io: Parameters<typeof runDemoCommand>[1]; steps: unknown[]; demoSteps: DemoSteps } {
  const heard: Heard = { out: '', err: '', steps: [] };
  const io = { out: (t: string) => void (heard.out += t), err: (t: string) => void (heard.err += t), isTerminal: false };
  const demoSteps: DemoSteps = {
    async makeTrainingCt(ct, options, stepIo) {
      heard.steps.push(['ct', ct, options]);
      mkdirSync(ct, { recursive: true });
      writeFileSync(join(ct, 'truth.json'), '{}');
      stepIo.out('series written\n');
      return codes.ct ?? 0;
    },
    async planCt(ct, plan, patient, options, stepIo) {
      expect(parsePatient(JSON.parse(readFileSync(patient, 'utf8'))).ok).toBe(true);
      heard.steps.push(['plan', ct, plan, options]);
      mkdirSync(join(plan, 'surfaces'), { recursive: true });
      writeFileSync(join(plan, 'plan.html'), '<p>ring</p>');
      writeFileSync(join(plan, 'surfaces', 'root.stl'), 'solid');
      stepIo.out('{"format":"trinadir.plan/1"}');
      return codes.plan ?? 0;
    },
    async answerResult({ resultFolder, recordsFolder, caseFolder }, options, stepIo) {
      heard.steps.push(['result', resultFolder, caseFolder, options]);
      for (const [place, name] of [[resultFolder, 'verdict.json'], [recordsFolder, 'aortogram.dcm']] as const) {
        mkdirSync(place, { recursive: true });
        writeFileSync(join(place, name), '{}');
      }
      stepIo.out('{"verdict":null}');
      return codes.result ?? 0;
    },
    async openDesk({ ctFolder, dataFolder, planFolder, port, replace }) {
      heard.steps.push(['desk', ctFolder, dataFolder, planFolder, port, replace]);
      if (codes.desk) return fail(codes.desk, 'no', 'next');
      mkdirSync(planFolder, { recursive: true });
      writeFileSync(join(planFolder, 'plan.html'), '<p>ring</p>');
      return succeed({ startUrl: DESK, close: async () => void heard.steps.push(['closed']) });
    },
    exitOf: exitOfDesk,
  };
  return Object.assign(heard, { io, demoSteps });
}
async function runOnce(trial: ReturnType<typeof makeTrial>, options: DemoOptions): Promise<number> {
  return runDemoCommand({ once: true, ...options }, trial.io, trial.demoSteps);
}

describe('runDemoCommand', () => {
  test('plans the CT it made, says the caution first and where the answers are last', async () => {
    const trial = makeTrial();
    const out = join(base, 'a');
    expect(await runOnce(trial, { out })).toBe(0);
    const plain = { replace: false, quiet: false };
    expect(trial.steps).toEqual([['ct', join(out, 'ct'), plain], ['plan', join(out, 'ct'), join(out, 'plan'), plain], ['result', join(out, 'result'), join(out, 'case'), plain]]);
    expect(trial.err.startsWith(HOUSE_EN.caution)).toBe(true);
    expect(trial.err).toContain(HOUSE_EN.training);
    const places = Object.fromEntries(['records', 'result', 'case'].map((name) => [name === 'case' ? 'caseFolder' : name, join(out, name)])) as Record<'records' | 'result' | 'caseFolder', string>;
    expect(trial.out).toBe(`The answers are in ${join(out, 'plan')}\n${formatText(DEMO_EN, 'released', places)}\n`);
  });
  test('with --json puts one document on standard output', async () => {
    const trial = makeTrial();
    await runOnce(trial, { out: join(base, 'b'), json: true, quiet: true });
    expect(JSON.parse(trial.out)).toEqual({ folder: join(base, 'b'), files: ['plan.html', 'surfaces/root.stl'], records: ['aortogram.dcm'], result: ['verdict.json'], caseFolder: join(base, 'b', 'case') });
    expect(trial.err).toBe(`${HOUSE_EN.caution}\n(${HOUSE_EN.training})\n`); // the caution is not progress
  });
  test('stops with the exit code of the step that failed', async () => {
    const first = makeTrial({ ct: 2 });
    expect(await runOnce(first, { out: join(base, 'c') })).toBe(2);
    expect(first.steps.length).toBe(1);
    const second = makeTrial({ plan: 3 });
    expect(await runOnce(second, { out: join(base, 'd') })).toBe(3);
    const third = makeTrial({ result: 3 });
    expect(await runOnce(third, { out: join(base, 'd') })).toBe(3);
    expect([first.out, second.out, third.out]).toEqual(['', '', '']);
  });
  test('replaces a named folder only when told, its own always', async () => {
    for (const [options, replace] of [[{ out: join(base, 'e') }, false], [{ out: join(base, 'e'), replace: true }, true]] as const) {
      const trial = makeTrial();
      await runOnce(trial, options);
      expect((trial.steps[0] as unknown[])[2]).toEqual({ replace, quiet: false });
    }
  });
  test('opens the desk on the case, says address and answers, and closes it when it is stopped', async () => {
    const trial = makeTrial();
    const out = join(base, 'f');
    let stop: () => void = () => {};
    const ended = runDemoCommand({ out, port: 0, quiet: true }, trial.io, trial.demoSteps, (end) => (stop = end));
    while (!trial.err.includes('/start/')) await new Promise((resolve) => setTimeout(resolve, 5));
    expect(trial.steps.slice(1)).toEqual([['desk', join(out, 'ct'), join(out, 'data'), join(out, 'plan'), 0, false]]); // planned once, by the desk
    expect(trial.err).toContain(DESK);
    expect(trial.out).toBe(`The answers are in ${join(out, 'plan')}\n`);
    stop();
    expect(await ended).toBe(0);
    expect(trial.steps.at(-1)).toEqual(['closed']);
  });
  test('refuses by code when the desk cannot be opened', async () => {
    for (const [code, exit] of [['port-taken', 2], ['data-not-of-demo', 2], ['store-locked', 3], ['store-unreachable', 5]] as const) {
      const trial = makeTrial({ desk: code });
      expect(await runDemoCommand({ out: join(base, 'g'), json: true }, trial.io, trial.demoSteps)).toBe(exit);
      expect((JSON.parse(trial.err.trimEnd().split('\n').at(-1)!) as { error: { code: string } }).error.code).toBe(code);
      expect(trial.out).toBe('');
    }
  });
});
