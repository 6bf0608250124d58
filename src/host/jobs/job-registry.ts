import type { JobRun } from './job-types.ts';

/**
 * Every job a worker can be asked for, by name. Modules are loaded on first use, so that a thread which decodes
 * slices does not load the survey, and the other way round.
 */
const JOBS: Readonly<Record<string, () => Promise<JobRun>>> = {
  'load-slices': async () => (await import('../intake/load-slices-job.ts')).loadSlices,
  'run-releases': async () => asJob((await import('../../tasks/run-releases.ts')).runReleasesTask),
  'answer-what-if': async () => asJob((await import('../../tasks/answer-what-if.ts')).answerWhatIfTask),
  'refine-what-ifs': async () => asJob((await import('../../tasks/answer-what-if.ts')).refineWhatIfsTask),
  'draw-print': async () => (await import('./draw-print.ts')).drawPrint,
  'read-pressure': async () => (await import('./pressure-jobs.ts')).readPressure,
  'read-ecg': async () => (await import('./ecg-job.ts')).readEcg,
  'trace-recording': async () => (await import('./pressure-jobs.ts')).traceRecording,
  'measure-run': async () => (await import('./contrast-job.ts')).measureRun,
  'read-echo-file': async () => (await import('./echo-jobs.ts')).readEchoFile,
  'read-echo-picture': async () => (await import('./echo-jobs.ts')).readEchoPicture,
  'draw-echo-frame': async () => (await import('./echo-jobs.ts')).drawEchoFrame,
  'compare-what-ifs': async () => asJob((await import('../../tasks/compare-what-ifs.ts')).compareWhatIfsTask),
};

/** A task as a job; its progress is not reported out of a thread. */
function asJob<In>(task: { run(input: In, report: (doneRatio: number) => void): unknown }): JobRun {
  return ((input: In) => task.run(input, () => {})) as JobRun;
}

/** Throws for a name that is not listed: a defect, never bad input. */
export function findJob(name: string): JobRun {
  const load = JOBS[name];
  if (!load) throw new Error(`No job is called "${name}".`);
  return async (input) => (await load())(input);
}
