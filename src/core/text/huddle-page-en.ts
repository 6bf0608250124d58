import { makeCatalogue } from './catalogue.ts';

/** Words of the Huddle page of the desk. */
export const HUDDLE_PAGE_EN = makeCatalogue({
  title: 'Huddle',
  ready: 'Every page is answered; the case can be talked through.',
  notYet: 'Not yet: {list}.',
  stale: 'the plan is older than the case',
  noDay: 'the day of the procedure',
  code: 'Plan {code}, event {seq} of this case. The code stands on every print of it.',
  glance: 'At a glance',
  pacing: 'Pacing during release',
  second: 'Second valve',
  notEntered: 'not entered',
  beats: '{count} per minute',
  doubtCount: '{open} open, {accepted} accepted',
  doubtNone: 'No doubt stands.',
  accept: 'Accept',
  because: 'We go on with this because',
  accepted: 'Accepted by {who}: {because}',
  acceptedAgain: 'The plan changed after this was accepted: look again.',
  prints: 'Prints',
  'print-plan': 'The whole plan (PDF)',
  'print-huddle': 'Huddle sheet (PDF)',
  'print-wall': 'Wall cards, A3 (PDF)',
  nextSettle: 'Settle or accept each doubt with the team.',
  nextPage: 'Complete {page}.',
  nextPrint: 'Print the sheet and the wall cards.',
});
