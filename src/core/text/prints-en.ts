import { makeCatalogue } from './catalogue.ts';

/** Why a stored plan is not asked or printed. */
export const PRINTS_EN = makeCatalogue({
  withoutPlan: 'This case has no plan yet.',
  withoutPlanNext: 'Plan the case first.',
  planNotOfCase: 'This case has no such plan.',
  planNotOfCaseNext: 'Load the case again and use its own plan.',
  overtaken: 'A newer question came before this one was answered.',
  overtakenNext: 'Wait for the answer to the newer one.',
  stale: 'Something that this plan depends on has changed since it was made.',
  staleNext: 'Plan the case again, then print.',
  nothingForWall: 'The plan holds nothing that a wall card could show.',
  nothingForWallNext: 'Plan the case again with its size, landing and views.',
});
