import type { CtVolume } from '../core/volume/volume-types.ts';
import { surveyRoot, type SurveyAnswer, type SurveyContext, type SurveyFailureCode } from '../core/root/survey-root.ts';
import type { Task } from './task.ts';

/** Measures the root of one volume: the same input always gives the same answer. */
export const surveyRootTask: Task<
  'survey-root',
  { readonly volume: CtVolume; readonly context: Omit<SurveyContext, 'report'> },
  SurveyAnswer,
  SurveyFailureCode
> = {
  name: 'survey-root',
  run: ({ volume, context }, report) => surveyRoot(volume, { ...context, report }),
};
