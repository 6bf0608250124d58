import { scoreCalciumSeries, type CalciumSeriesFailureCode, type CalciumSeriesInput } from '../core/root/score-calcium-series.ts';
import type { RootCalciumScore } from '../core/root/root-types.ts';
import type { Task } from './task.ts';

/** Scores the calcium of a non-contrast series at the place of a measured root. */
export const scoreCalciumSeriesTask: Task<'score-calcium-series', CalciumSeriesInput, RootCalciumScore, CalciumSeriesFailureCode> = {
  name: 'score-calcium-series',
  run: (input) => scoreCalciumSeries(input),
};
