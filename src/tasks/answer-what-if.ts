import type { PlannedChoice } from '../core/case/case-events.ts';
import type { Plan } from '../core/case/plan-types.ts';
import type { AskChoiceFailureCode } from '../core/case/ask-choice.ts';
import { WhatIfKeeper, type PlannedForecast } from '../core/case/keep-what-ifs.ts';
import { succeed } from '../core/result.ts';
import type { FactStamp } from '../core/units/fact.ts';
import type { Task } from './task.ts';

/** What stays between the what-ifs of one thread. */
const keeper = new WhatIfKeeper();

/** The forecast of one choice against that of a plan. `planText` is plan.json as stored, whose hash was checked. */
export const answerWhatIfTask: Task<
  'answer-what-if',
  { readonly planSha256: string; readonly planText: string; readonly choice: PlannedChoice; readonly stamp: FactStamp },
  PlannedForecast,
  AskChoiceFailureCode
> = {
  name: 'answer-what-if',
  run: ({ planSha256, planText, choice, stamp }) => keeper.answer(planSha256, () => JSON.parse(planText) as Plan, choice, stamp),
};

/** Some more draws for what was asked last, while nobody asks. */
export const refineWhatIfsTask: Task<'refine-what-ifs', { readonly draws: number }, { readonly isMoreToDo: boolean }, never> = {
  name: 'refine-what-ifs',
  run: ({ draws }) => succeed({ isMoreToDo: keeper.refine(draws) }),
};
