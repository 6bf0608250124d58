import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { DepthReading } from '../../core/projection/depth-types.ts';
import type { Fact } from '../../core/units/fact.ts';
import type { CommandIo } from './command-io.ts';
import { runDepthCommand } from './depth-command.ts';
import { EXIT } from './exit-codes.ts';

/** What `trinadir depth` says of the marked fluoroscopy, as the room logs it; null: it says nothing, or nothing was marked. */
export async function readTrainingDepth(planFolder: string, fluoroscopyFolder: string | null): Promise<DepthReading | null> {
  if (fluoroscopyFolder === null) return null;
  const frames = join(fluoroscopyFolder, 'frames.json');
  if (!(await readFile(frames).then(() => true, () => false))) return null;
  let text = '';
  const io: CommandIo = { out: (t) => void (text += t), err: () => {}, isTerminal: false };
  if ((await runDepthCommand({ path: planFolder, frames, json: true }, io)) !== EXIT.answered) return null;
  const { depthMm, state, views, clicks } = JSON.parse(text) as Pick<DepthReading, 'state' | 'views' | 'clicks'> & { readonly depthMm: Fact };
  const { value, low, high } = depthMm;
  return value === null || low === null || high === null ? null : { depthMm: value, lowMm: low, highMm: high, state, by: 'marks', views, cusp: 'N', edge: 'inflow', clicks, unsheathedRatio: null };
}
