import { readFile } from 'node:fs/promises';
import type { ContrastAsk } from '../../core/angiogram/contrast-types.ts';
import { measureContrast } from '../../core/angiogram/measure-contrast.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { parseContrastRegions } from '../../formats/contrast/parse-contrast-regions.ts';
import { readContrastRun } from '../contrast/read-contrast-run.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import type { ContrastSaid } from './contrast-said.ts';
import { EXIT } from './exit-codes.ts';
import { formatContrast } from './format-contrast.ts';
import { reportFailure } from './report-failure.ts';

export interface ContrastOptions {
  readonly path: string;
  readonly regions?: string | undefined;
  readonly frames?: readonly [number, number] | undefined;
  readonly rate?: number | undefined;
  readonly fps?: number | undefined;
  readonly said?: ContrastSaid | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}
/** A file of two polygons; anything longer is something else. */
const MOST_REGION_BYTES = 1 << 20;
/** `trinadir contrast FILE`: time-density curves and leak ratio of an angiographic run. Gives the exit code. */
export async function runContrastCommand(options: ContrastOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>, where: string, code: number): number => {
    reportFailure(failure, where, { json: options.json === true }, io);
    return code;
  };
  const stamp = readStamp();
  if (!stamp.ok) return stop(stamp.failure, 'contrast', EXIT.usage);
  const regions = options.regions === undefined ? null : await readRegions(options.regions);
  if (regions && !regions.ok) return stop(regions.failure, 'contrast regions', EXIT.refused);
  const file = await readContrastRun(options.path);
  if (!file.ok) return stop(file.failure, 'contrast', EXIT.refused);
  const ask: ContrastAsk = { ...options.said, regions: regions?.value, frames: options.frames, ratePerMin: options.rate, framesPerS: options.fps };
  const answer = measureContrast(file.value.run, ask, stamp.value);
  if (!answer.ok) return stop(answer.failure, 'contrast', EXIT.refused);
  io.out(options.json ? `${JSON.stringify(answer.value)}\n` : formatContrast(answer.value));
  return answer.value.ratio.value === null ? EXIT.refused : EXIT.answered;
}

async function readRegions(path: string): Promise<Result<NonNullable<ContrastAsk['regions']>, string>> {
  const bytes = await readFile(path).catch(() => null);
  if (!bytes || bytes.length > MOST_REGION_BYTES) return fail('contrast-regions-unreadable', CONTRAST_EN.regionsUnreadable, CONTRAST_EN.regionsUnreadableNext);
  const parsed = parseContrastRegions(new TextDecoder().decode(bytes));
  return parsed.ok ? succeed(parsed.value) : parsed;
}
