import type { ContrastAnswer, ContrastAsk } from '../../core/angiogram/contrast-types.ts';
import { measureContrast } from '../../core/angiogram/measure-contrast.ts';
import type { Result } from '../../core/result.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { readContrastRun } from '../contrast/read-contrast-run.ts';

export interface MeasureRunAsk {
  readonly path: string;
  readonly ask: ContrastAsk;
  readonly stamp: FactStamp;
}

/** Reads a run with its pixels and measures its densities; runs in a thread. Fails as readContrastRun and measureContrast. */
export async function measureRun({ path, ask, stamp }: MeasureRunAsk): Promise<Result<ContrastAnswer, string>> {
  const read = await readContrastRun(path);
  return read.ok ? measureContrast(read.value.run, ask, stamp) : read;
}
