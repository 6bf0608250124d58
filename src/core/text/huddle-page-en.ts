import { makeCatalogue } from './catalogue.ts';

/** Words of the Huddle page of the desk. */
export const HUDDLE_PAGE_EN = makeCatalogue({
  title: 'Huddle',
  notYet: 'Not yet: {list}.',
  stale: 'the plan is older than the case',
  noDay: 'the day of the procedure',
  doubtCount: '{open} open, {accepted} accepted',
  doubtNone: 'No doubt stands.',
  accept: 'Accept',
  because: 'We go on with this because',
  accepted: 'Accepted by {who}: {because}',
  acceptedAgain: 'The plan changed after this was accepted: look again.',
  'print-plan': 'The whole plan (PDF)',
  'print-huddle': 'Huddle sheet (PDF)',
  'print-wall': 'Wall cards, A3 (PDF)',
  nextSettle: 'Settle or accept each doubt with the team.',
  nextPage: 'Complete {page}.',
  nextPrint: 'Print the sheet and the wall cards.',
});
