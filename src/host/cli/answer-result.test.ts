import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { TRAINING_PATIENT } from '../../core/device/training-table.ts';
import { drawTrainingPressures, TRAINING_ECG } from '../../core/phantom/training-result.ts';
import type { RhythmCase } from '../../core/rhythm-case/assemble-rhythm.ts';
import type { Fact } from '../../core/units/fact.ts';
import type { VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import { TRAINING_NOTE } from '../../formats/dicom/write-ct-slice.ts';
import { writeCsvRecording } from '../../formats/waveform/write-csv-recording.ts';
import { openCaseFolder } from '../case-file/open-case-folder.ts';
import { answerTrainingCase, readTrainingAnswers } from './answer-training-case.ts';
import type { CommandIo } from './command-io.ts';
import { runMain } from './main.ts';
import { makeTrainingCase } from './make-training-case.ts';
import { writeTrainingRecords } from './write-training-records.ts';

const SEED = 101;
const NOW = Date.parse('2026-03-02T10:00:00Z');
const top = mkdtempSync(join(tmpdir(), 'trinadir-result-'));
const at = (name: string): string => join(top, name);
const places = { planFolder: at('plan'), fluoroscopyFolder: null, recordsFolder: at('records'), caseFolder: at('case'), resultFolder: at('result') };
const heard = { err: '' };
const silent: CommandIo = { out: () => {}, err: (t) => void (heard.err += t), isTerminal: false };
const readAnswer = <T>(name: string): T => JSON.parse(readFileSync(join(places.resultFolder, `${name}.json`), 'utf8')) as T;
async function ask(...words: readonly string[]): Promise<string> {
  let out = '';
  expect([words[0], await runMain([...words, '--json'], { ...silent, out: (t) => void (out += t) })]).toEqual([words[0], 0]);
  return out;
}
const holds = ({ low, high }: Fact, truth: number): boolean => low !== null && low <= truth && truth <= high!;

beforeAll(async () => {
  process.env['SOURCE_DATE_EPOCH'] = String(NOW / 1000);
  mkdirSync(places.planFolder);
  writeFileSync(join(places.planFolder, 'plan.json'), JSON.stringify({ ...makeStoredPlan().plan, patient: TRAINING_PATIENT }));
  await writeTrainingRecords(places.recordsFolder, SEED);
  expect([await makeTrainingCase(places, NOW, silent), heard.err]).toEqual([0, '']);
  expect([await answerTrainingCase(places, NOW, silent), heard.err]).toEqual([0, '']);
}, 240_000);
afterAll(() => {
  delete process.env['SOURCE_DATE_EPOCH'];
  rmSync(top, { recursive: true, force: true });
});

describe('the training case after release', () => {
  test('what was written is what the verbs say for the same files, but for the mark', async () => {
    const record = (name: string): string => join(places.recordsFolder, name);
    const said: readonly (readonly [string, string])[] = [
      ['pressure', await ask('pressure', record('pressures-after-release.csv'), '--baseline', record('pressures-before-balloon.csv'))],
      ['contrast', await ask('contrast', record('aortogram.dcm'), '--said', 'breath-held,not-paced,table-still,no-overlap,in-view')],
      ['verdict', await ask('verdict', places.caseFolder)],
    ];
    for (const [name, json] of said) {
      const { note, training, ...answer } = readAnswer<Record<string, unknown>>(name);
      expect([note, training]).toEqual([TRAINING_NOTE, true]);
      expect(JSON.stringify(answer), name).toBe(json.trimEnd());
    }
    const again = await readTrainingAnswers(places.caseFolder, new Date(NOW).toISOString());
    expect(again.ok).toBe(true);
    if (again.ok) for (const name of ['echo', 'rhythm'] as const) expect(readAnswer(name)).toEqual({ note: TRAINING_NOTE, training: true, ...JSON.parse(JSON.stringify(again.value[name])) as object });
  });

  test('case add takes each file once, and none without its time, its reason, or of another kind', async () => {
    const dir = at('bare');
    await ask('case', 'new', dir, '--label', 'A 7', '--training');
    const [run, ecg, takenAt] = [join(places.recordsFolder, 'aortogram.dcm'), join(places.recordsFolder, 'ecg-before.csv'), '2026-03-02T10:00:00.000Z'];
    const because = ['--taken-at', takenAt, '--because', 'Invented for a test'];
    const refused = async (...words: readonly string[]): Promise<string> => {
      let err = '';
      await runMain(['case', 'add', dir, ...words, '--json'], { ...silent, err: (t) => void (err += t) });
      return (JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string } }).error.code;
    };
    expect(await refused(ecg, '--ecg', 'post')).toBe('added-beside-missing');
    expect(await refused(ecg, '--ecg', 'post', '--taken-at', takenAt)).toBe('file-identity-open');
    expect(await refused(run, '--ecg', 'post', ...because)).not.toBe('ecg-none'); // no waveform at all
    expect(await refused(ecg, '--angiogram', ...because)).toMatch(/^not-dicom|^no-dicom|dicom/);
    for (const [words, what, events] of [[[run, '--angiogram'], 'angiogram', 3], [[ecg, '--ecg', 'post'], 'ECG', 1]] as const) {
      expect(JSON.parse(await ask('case', 'add', dir, ...words, ...because))).toMatchObject({ added: what, events });
      expect(JSON.parse(await ask('case', 'add', dir, ...words, ...because))).toMatchObject({ added: what, events: 0 });
    }
    const { result, runs } = (await openCaseFolder(dir) as { value: { state: CaseState } }).value.state;
    expect([runs.length, result.angiograms.length, Object.keys(result.ecgs)]).toEqual([1, 1, ['post']]);
  }, 240_000);

  test('three witnesses speak and agree on a leak that the model has; the grades of two readers open the verdict', () => {
    const { verdict, gate, isTraining } = readAnswer<VerdictAnswer>('verdict');
    expect([gate.isOpen, isTraining, verdict!.word, verdict!.speaking.map((w) => w.kind)]).toEqual([true, true, 'AGREE', ['pressure', 'echo', 'angiogram']]);
  });

  test('the drawn pressures, densities and intervals lie inside what is answered', () => {
    const truth = JSON.parse(readFileSync(join(places.recordsFolder, 'truth.json'), 'utf8')) as { pressures: { after: Record<string, number> }; aortogram: { regurgitantFraction: number } };
    const { aortic, gradients, rhythm: beats } = readAnswer<PressureAnswer>('pressure');
    const { systolicMmHg, diastolicMmHg, meanGradientMmHg } = truth.pressures.after;
    expect([holds(aortic.systolic, systolicMmHg!), holds(aortic.diastolic, diastolicMmHg!), holds(gradients.meanMmHg, meanGradientMmHg!), beats.word]).toEqual([true, true, true, 'regular']);
    // The ratio is no fraction; it grows with it and lies near it in the model (docs/methods/contrast.md).
    expect(Math.abs(readAnswer<ContrastAnswer>('contrast').ratio.value! - truth.aortogram.regurgitantFraction)).toBeLessThan(0.05);
    const { ecgs, answer } = readAnswer<RhythmCase>('rhythm');
    for (const [k, drawn] of [TRAINING_ECG.before, TRAINING_ECG.after].entries()) expect([holds(ecgs[k]!.pr.used!, drawn.prMs), holds(ecgs[k]!.qrs.used!, drawn.qrsMs)]).toEqual([true, true]);
    expect(answer.word).toBe('new conduction change');
  });

  test('every file carries the mark of training, and no name stands outside the case and its referral', () => {
    for (const folder of [places.recordsFolder, places.resultFolder]) {
      for (const name of readdirSync(folder)) {
        const text = readFileSync(join(folder, name)).toString('latin1');
        expect([name, /TRAINING|Training|"training"/.test(text)]).toEqual([name, true]);
        if (name !== 'referral.json') expect([name, /1944-05-17|TRAINING-101/.test(text)]).toEqual([name, false]);
      }
    }
  });

  test('the case is whole by its chain, and the same time gives the same bytes', async () => {
    const opened = await openCaseFolder(places.caseFolder);
    expect(opened.ok && opened.value.state.frozen !== null && opened.value.state.training).toBe(true);
    expect(JSON.parse(await ask('audit', 'verify', places.caseFolder))).toMatchObject({ frozen: 1 });
    const again = { ...places, caseFolder: at('case-again') };
    const names = readdirSync(places.recordsFolder);
    const before = names.map((name) => readFileSync(join(places.recordsFolder, name)));
    expect(await makeTrainingCase(again, NOW, silent)).toBe(0); // writes the entries again
    for (const [k, name] of names.entries()) expect([name, readFileSync(join(places.recordsFolder, name)).equals(before[k]!)]).toEqual([name, true]);
    const { before: recording } = drawTrainingPressures(SEED);
    expect(readFileSync(join(places.recordsFolder, 'pressures-before-balloon.csv'), 'utf8').split('\n').slice(1)).toEqual(writeCsvRecording(recording.recording, '').split('\n').slice(1));
    expect(readFileSync(join(again.caseFolder, 'events.ndjson'))).toEqual(readFileSync(join(places.caseFolder, 'events.ndjson')));
  }, 240_000);
});
