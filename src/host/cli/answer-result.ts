import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { DEMO_EN } from '../../core/text/demo-en.ts';
import { readNowMs } from '../case-file/case-clock.ts';
import { answerTrainingCase } from './answer-training-case.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { makeTrainingCase } from './make-training-case.ts';
import { writeTrainingRecords } from './write-training-records.ts';

/** Where the training case lies from release on, beside its plan. */
export interface ResultPlaces {
  readonly ctFolder: string;
  readonly fluoroscopyFolder: string;
  readonly planFolder: string;
  readonly recordsFolder: string;
  readonly caseFolder: string;
  readonly resultFolder: string;
}

/** The training case from release on: records, a case folder made of them, answers. Gives the exit code. */
export async function answerResult(places: ResultPlaces, { quiet }: { readonly quiet: boolean }, io: CommandIo): Promise<number> {
  const nowMs = readNowMs();
  if (!quiet) io.err(`${DEMO_EN.makesRecords}\n`);
  await writeTrainingRecords(places.recordsFolder, await readSeed(places.ctFolder));
  if (!quiet) io.err(`${DEMO_EN.answersRecords}\n`);
  const made = await makeTrainingCase(places, nowMs, io);
  return made === EXIT.answered ? answerTrainingCase(places, nowMs, io) : made;
}

/** The seed that the CT was made with. */
export async function readSeed(ctFolder: string): Promise<number> {
  const truth = JSON.parse(await readFile(join(ctFolder, 'truth.json'), 'utf8')) as { readonly scan: { readonly seed: number } };
  return truth.scan.seed;
}
