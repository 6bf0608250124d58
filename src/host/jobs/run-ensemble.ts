import { joinParts, runEnsemblePart, type EnsemblePart, type EnsemblePlan } from '../../core/release/run-ensemble.ts';
import type { ReleaseQuestion } from '../../core/release/forecast-release.ts';
import { answerWhatIfs } from '../../core/release/list-what-ifs.ts';
import type { WhatIfAnswer, WhatIfCode } from '../../core/release/release-types.ts';
import type { Result } from '../../core/result.ts';
import { countWorkers } from './count-workers.ts';
import { WorkerPool } from './worker-pool.ts';

/** A thread costs about a tenth of a second to start: below this many releases one thread is as quick. */
const WORTH_RELEASES = 200;
/** Small enough that both threads end together. */
const CHUNK = 50;

export interface ReleaseWork {
  readonly plan: EnsemblePlan;
  readonly releases: number;
  /** What-ifs beside the ensemble, against one base; empty for none. */
  readonly whatIfs: readonly (readonly [WhatIfCode, ReleaseQuestion])[];
  readonly base: ReleaseQuestion;
}
export interface ReleaseWorkDone {
  readonly part: EnsemblePart;
  readonly whatIfs: readonly WhatIfAnswer[];
}

/**
 * A release ensemble and its what-ifs over the worker threads. Parts are cut and joined by sample number and what-ifs by
 * their order: the same bytes for any number of workers.
 */
export async function runReleaseWork(work: ReleaseWork, workers = countWorkers()): Promise<ReleaseWorkDone> {
  const { plan, releases, whatIfs, base } = work;
  if (releases < WORTH_RELEASES || workers < 2) {
    return { part: runEnsemblePart(plan, 0, releases), whatIfs: whatIfs.length > 0 ? answerWhatIfs(base, whatIfs) : [] };
  }
  const pool = new WorkerPool(workers);
  try {
    const chunks = Array.from({ length: Math.ceil(releases / CHUNK) }, (_, i) => ({ first: i * CHUNK, count: Math.min(CHUNK, releases - i * CHUNK) }));
    const parts = chunks.map((c) => pool.run<Result<EnsemblePart, never>>('run-releases', { plan, ...c }));
    const half = Math.ceil(whatIfs.length / 2);
    const halves = [whatIfs.slice(0, half), whatIfs.slice(half)].filter((list) => list.length > 0);
    const answers = halves.map((list) => pool.run<Result<readonly WhatIfAnswer[], never>>('compare-what-ifs', { base, list }));
    return { part: joinParts((await Promise.all(parts)).map(take)), whatIfs: (await Promise.all(answers)).flatMap(take) };
  } finally {
    await pool.close();
  }
}

/** These tasks have no failures. */
function take<T>(answer: Result<T, never>): T {
  if (!answer.ok) throw new Error('A release task failed.');
  return answer.value;
}
