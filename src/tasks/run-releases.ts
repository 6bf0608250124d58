import { succeed } from '../core/result.ts';
import { runEnsemblePart, type EnsemblePart, type EnsemblePlan } from '../core/release/run-ensemble.ts';
import type { Task } from './task.ts';

/** Some samples of one release ensemble. Each sample depends on its number only, so any split gives the same answer. */
export const runReleasesTask: Task<'run-releases', { readonly plan: EnsemblePlan; readonly first: number; readonly count: number }, EnsemblePart, never> = {
  name: 'run-releases',
  run: ({ plan, first, count }) => succeed(runEnsemblePart(plan, first, count)),
};
