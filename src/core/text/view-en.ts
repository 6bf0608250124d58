import { makeCatalogue } from './catalogue.ts';

/** Words of `trinadir view`. */
export const VIEW_EN = makeCatalogue({
  viewVerb: 'what one camera angle shows and hides of a planned root',
  planArgument: 'plan.json, or the folder that trinadir plan wrote',
  primary: 'primary angle in degrees, + = LAO',
  secondary: 'secondary angle in degrees, + = cranial',
  number: 'It must be a number from {low} to {high}.',
  outOfRange: 'The primary angle runs from -180 to 180 and the secondary from -90 to 90 degrees.',
  outOfRangeNext: 'Give LAO and cranial as positive, RAO and caudal as negative numbers.',
  noRoot: 'This plan has no measured root, so no view of it can be judged.',
  noRootNext: 'Plan again with the root, or mark the nadirs by hand.',
  withheld: 'Camera angles are withheld for this scan.',
  withheldNext: 'Take the angles on the table.',
  answer: 'Answer  {view} looks {off} deg ({low} to {high}) off the basal plane.',
  error: '  Depth error {mm} mm ({low} to {high}) per 10 mm of frame radius.',
  shortening: '  Lengths along the normal look {percent} % shorter.',
  cusps: '  Left to right: {order}, {a} and {b} mm apart; lowest: {lowest}; nearest the tube: {nearest}.',
  covered: '  {a} and {b} cover one another.',
  apart: '  No cusp covers another.',
  onEdge: 'Next  The plane is seen on edge at {view}.',
});
