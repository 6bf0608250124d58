import { makeCatalogue } from './catalogue.ts';

/** Words of the depth panel on the In-the-room page. */
export const DEPTH_PAGE_EN = makeCatalogue({
  title: 'Depth',
  entered: 'Depth as the room’s own screen shows it',
  enteredSay: 'A depth without its view is not a depth: enter both.',
  depth: 'Depth below the N cusp',
  within: 'Within ±',
  mm: 'mm',
  primary: 'LAO or RAO',
  secondary: 'Cranial or caudal',
  lao: 'LAO',
  rao: 'RAO',
  cra: 'CRA',
  cau: 'CAU',
  deg: '°',
  log: 'Keep this depth',
  numberNeeded: 'Enter a number from {low} to {high}.',
  isEntered: 'as the room read it',
});
