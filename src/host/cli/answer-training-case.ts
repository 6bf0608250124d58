import { mkdir, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import type { EchoAnswer } from '../../core/echo/echo-types.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import { assembleRhythm, type RhythmCase } from '../../core/rhythm-case/assemble-rhythm.ts';
import { formatRhythm } from '../../core/rhythm/format-rhythm.ts';
import { succeed, type Result } from '../../core/result.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEMO_EN } from '../../core/text/demo-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { assembleEcho } from '../../core/verdict/assemble-echo.ts';
import { loadCaseVerdict } from '../case-file/load-case-verdict.ts';
import { openCaseFolder } from '../case-file/open-case-folder.ts';
import { loadRhythmCase } from '../server/load-rhythm-case.ts';
import { formatFact } from '../../formats/report/format-number.ts';
import { TRAINING_NOTE } from '../../formats/dicom/write-ct-slice.ts';
import type { CommandIo } from './command-io.ts';
import { runContrastCommand } from './contrast-command.ts';
import { runDepthCommand } from './depth-command.ts';
import { EXIT } from './exit-codes.ts';
import { formatContrast } from './format-contrast.ts';
import { formatPressure } from './format-pressure.ts';
import { runPressureCommand } from './pressure-command.ts';
import { reportFailure } from './report-failure.ts';
import { TRAINING_SAID } from './training-entries.ts';
import { runVerdictCommand } from './verdict-command.ts';
import { TRAINING_RECORDS } from './write-training-records.ts';

export interface TrainingAnswerPlaces {
  readonly planFolder: string;
  /** frames.json lies in it; null: no frames were marked. */
  readonly fluoroscopyFolder: string | null;
  readonly recordsFolder: string;
  readonly caseFolder: string;
  /** Made anew. */
  readonly resultFolder: string;
}

/**
 * Every question after release, answered by the verbs for the training files: as JSON and to be read, each marked as training.
 * Echo and rhythm, which no verb asks for alone, come from the case. Gives the exit code of the question that failed.
 */
export async function answerTrainingCase(places: TrainingAnswerPlaces, nowMs: number, io: CommandIo): Promise<number> {
  const { planFolder, fluoroscopyFolder, recordsFolder, caseFolder, resultFolder } = places;
  await rm(resultFolder, { recursive: true, force: true });
  await mkdir(resultFolder, { recursive: true });
  const put = async (name: string, answer: object, text: string): Promise<void> => {
    await writeFile(join(resultFolder, `${name}.json`), `${JSON.stringify({ note: TRAINING_NOTE, training: true, ...answer })}\n`);
    await writeFile(join(resultFolder, `${name}.txt`), `${TRAINING_NOTE}\n${text}`);
  };
  const record = (name: keyof typeof TRAINING_RECORDS): string => join(recordsFolder, TRAINING_RECORDS[name]);
  /** A verb, asked for JSON; its words are made from that, or asked for a second time. */
  const ask = async <A extends object>(name: string, run: (json: boolean, to: CommandIo) => Promise<number>, format?: (answer: A) => string): Promise<number> => {
    const json = listen(io);
    const code = await run(true, json.io);
    if (code !== EXIT.answered) return code;
    const answer = JSON.parse(json.said()) as A;
    const words = listen(io);
    if (!format) await run(false, words.io);
    await put(name, answer, format ? format(answer) : words.said());
    return code;
  };
  const codes = [
    ...(fluoroscopyFolder === null ? [] : [() => ask('depth', (json, to) => runDepthCommand({ path: planFolder, frames: join(fluoroscopyFolder, 'frames.json'), json }, to))]),
    () => ask<PressureAnswer>('pressure', (json, to) => runPressureCommand({ path: record('pressuresAfter'), baseline: record('pressuresBefore'), json }, to), formatPressure),
    () => ask<ContrastAnswer>('contrast', (json, to) => runContrastCommand({ path: record('aortogram'), said: TRAINING_SAID, json }, to), formatContrast),
    () => ask('verdict', (json, to) => runVerdictCommand({ named: caseFolder, dataFolder: caseFolder, json }, to)),
  ];
  for (const asked of codes) {
    const code = await asked();
    if (code !== EXIT.answered) return code;
  }
  const ofCase = await readTrainingAnswers(caseFolder, new Date(nowMs).toISOString());
  if (!ofCase.ok) {
    reportFailure(ofCase.failure, 'demo', { json: false }, io);
    return EXIT.refused;
  }
  const { echo, rhythm } = ofCase.value;
  if (echo) await put('echo', echo, formatEcho(echo));
  await put('rhythm', rhythm, `${[...formatRhythm(rhythm.answer, rhythm.next), HOUSE_EN.caution].join('\n')}\n`);
  return EXIT.answered;
}

/** Echo and rhythm of a case folder, as its Result and Rhythm pages would answer at `nowAt`. Fails as the case and its documents. */
export async function readTrainingAnswers(caseFolder: string, nowAt: string): Promise<Result<{ readonly echo: EchoAnswer | null; readonly rhythm: RhythmCase }, string>> {
  const opened = await openCaseFolder(caseFolder);
  if (!opened.ok) return opened;
  try {
    const { state, events, readDocument } = opened.value;
    const verdict = await loadCaseVerdict(opened.value, nowAt);
    if (!verdict.ok) return verdict;
    const records = events.flatMap((e) => (e.kind === 'room.logged' ? [{ ...(e.data as RoomRecord), by: e.by, seq: e.seq }] : []));
    const rhythm = await loadRhythmCase({ state, records, readDocument }, nowAt);
    if (!rhythm.ok) return rhythm;
    const after = state.result.recordings.filter((r) => r.moment === 'after' && r.withdrawn === null).at(-1)?.answerSha256;
    const pressure = after ? (verdict.value.pressures.get(after) ?? null) : null;
    return succeed({ echo: assembleEcho(verdict.value, pressure)?.answer ?? null, rhythm: assembleRhythm(rhythm.value) });
  } finally {
    await opened.value.close();
  }
}

/** The echo in words: what it says of valve, flow and leak, and whether its numbers agree. */
export function formatEcho({ valve, flow, leak, checks }: EchoAnswer): string {
  const rows: readonly (readonly [string, Fact])[] = [
    [DEMO_EN.echoMeanGradient, valve.meanGradient], [DEMO_EN.echoArea, valve.area], [DEMO_EN.echoIndex, valve.index], [DEMO_EN.echoStroke, flow.stroke],
    [DEMO_EN.echoCircumference, leak.circumference], [DEMO_EN.echoVolume, leak['regurgitant-volume']], [DEMO_EN.echoFraction, leak['regurgitant-fraction']],
  ];
  const lines = rows.flatMap(([name, fact]) => {
    const words = formatFact(fact);
    return words ? [formatText(DEMO_EN, 'echoRow', { name, value: words.value, band: words.interval })] : [];
  });
  const said = checks.filter((c) => c.weight !== 'tell').map((c) => c.text);
  return `${[...lines, formatText(DEMO_EN, 'echoPlace', { place: leak.place ?? '-' }), ...(said.length > 0 ? said : [DEMO_EN.echoAgrees]), HOUSE_EN.caution].join('\n')}\n`;
}

function listen(io: CommandIo): { readonly io: CommandIo; said(): string } {
  let text = '';
  return { io: { ...io, out: (t) => void (text += t), err: (t) => io.err(t) }, said: () => text };
}
