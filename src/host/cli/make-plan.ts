import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { PLAN_EN } from '../../core/text/plan-en.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { roundGrid } from '../../core/volume/round-grid.ts';
import { findCalciumSeries } from '../intake/load-calcium-series.ts';
import { loadProposedVolume } from '../intake/load-volume.ts';
import { scanPath } from '../intake/scan-path.ts';
import type { LoadedVolume, ScanReport } from '../intake/scan-types.ts';
import { countWorkers } from '../jobs/count-workers.ts';
import { WorkerPool } from '../jobs/worker-pool.ts';
import { checkLandmarks } from './check-landmarks.ts';
import type { PlanAnswer, PlanRequest } from './plan-types.ts';
import type { Progress } from './progress-bar.ts';

/** Looks at what was read, before it is measured; a failure stops the plan. */
export type InspectVolume = (report: ScanReport, loaded: LoadedVolume) => Failure<string> | null;

/**
 * From a path to a plan: scan, read, survey, pictures, surfaces. Writes nothing.
 * Fails   as scanPath, loadProposedVolume, checkLandmarks and surveyRoot; and with the code of the first stop when the
 *         scan is not fit
 */
export async function makePlan(request: PlanRequest, stamp: FactStamp, progress: Progress, inspect?: InspectVolume): Promise<Result<PlanAnswer>> {
  const read = await readVolume(request, progress);
  if (!read.ok) return read;
  const { report } = read.value;
  if (read.value.loaded.verdict === 'not fit') return { ok: false, failure: describeStop(read.value.loaded) };
  const loaded = { ...read.value.loaded, volume: roundGrid(read.value.loaded.volume) };
  const stopped = inspect?.(read.value.report, loaded);
  if (stopped) return { ok: false, failure: stopped };
  const misfit = request.landmarks && checkLandmarks(request.landmarks.content, loaded.volume, loaded.header.frameOfReferenceUid);
  if (misfit) return { ok: false, failure: misfit };
  const { answerPlan } = await import('./answer-plan.ts');
  return answerPlan(request, loaded, stamp, progress, findCalciumSeries(report, loaded));
}

/** Fewer files or bytes are read as quickly without threads. */
const WORTH_FILES = 32;
const WORTH_BYTES = 40e6;

/** Scan and load. Threads for a large series are started while its headers are looked at. */
async function readVolume({ path, seriesUid }: PlanRequest, progress: Progress): Promise<Result<{ readonly loaded: LoadedVolume; readonly report: ScanReport }>> {
  let pool: WorkerPool | null = null;
  try {
    progress.step(PLAN_EN.looking);
    const scanned = await scanPath(path, {
      onProgress: progress.report,
      onListed({ files, bytes }) {
        if (files >= WORTH_FILES && bytes >= WORTH_BYTES) pool = new WorkerPool(countWorkers());
      },
    });
    if (!scanned.ok) return scanned;
    progress.step(PLAN_EN.reading);
    void import('./answer-plan.ts'); // what measures and draws is loaded while the threads read
    const options = { onProgress: progress.report, ...(pool ? { pool } : {}), ...(seriesUid === undefined ? {} : { seriesUid }) };
    const loaded = await loadProposedVolume(scanned.value, options);
    return loaded.ok ? succeed({ loaded: loaded.value, report: scanned.value }) : loaded;
  } finally {
    await (pool as WorkerPool | null)?.close();
  }
}

function describeStop(loaded: LoadedVolume): Failure<string> {
  const stop = loaded.findings.find((finding) => finding.severity === 'stop');
  const text = stop?.text ?? PLAN_EN.noStop;
  return fail(stop?.code ?? 'scan-not-fit', text, stop?.next ?? 'Run trinadir scan on it to see why.').failure;
}
