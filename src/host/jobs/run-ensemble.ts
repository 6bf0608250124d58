import { joinParts, runEnsemblePart, type EnsemblePart, type EnsemblePlan } from '../../core/release/run-ensemble.ts';
import type { Result } from '../../core/result.ts';
import { countWorkers } from './count-workers.ts';
import { WorkerPool } from './worker-pool.ts';

/** A thread costs about a tenth of a second to start: below this many releases one thread is as quick. */
const WORTH_RELEASES = 200;
/** Small enough that both threads end together. */
const CHUNK = 50;

/**
 * A release ensemble over the worker threads. Parts are cut and joined by sample number: the same bytes for any number
 * of workers.
 */
export async function runEnsemble(plan: EnsemblePlan, releases: number, workers = countWorkers()): Promise<EnsemblePart> {
  if (releases < WORTH_RELEASES || workers < 2) return runEnsemblePart(plan, 0, releases);
  const pool = new WorkerPool(workers);
  try {
    const chunks = Array.from({ length: Math.ceil(releases / CHUNK) }, (_, i) => ({ first: i * CHUNK, count: Math.min(CHUNK, releases - i * CHUNK) }));
    const parts = await Promise.all(chunks.map((c) => pool.run<Result<EnsemblePart>>('run-releases', { plan, ...c })));
    return joinParts(parts.map((part) => {
      if (!part.ok) throw new Error(part.failure.code); // the task has no failures
      return part.value;
    }));
  } finally {
    await pool.close();
  }
}
