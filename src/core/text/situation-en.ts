import { makeCatalogue } from './catalogue.ts';

/** Words about a described situation (docs/situation.md). */
export const SITUATION_EN = makeCatalogue({
  notDescribed: 'The situation does not say.',
  notDescribedNext: 'Put the number into the situation with its half-width.',
  runUnread: 'The run cannot be analysed.',
  runUnreadNext: 'Repeat the run with both regions in view, or grade it by eye.',
  'line-damped': 'The aortic line is damped.',
  'line-damped-next': 'Flush the line and record again.',
  'line-rings': 'The aortic line rings.',
  'line-rings-next': 'Take bubbles out of the line, shorten it and record again.',
  'channels-swapped': 'The channels look exchanged.',
  'channels-swapped-next': 'Look which transducer is on which line and record again.',
  'zero-doubtful': 'The zero of the aortic line is doubtful.',
  'zero-doubtful-next': 'Zero it at the level of the heart and record again.',

  verb: 'what pressures, echo and angiogram say together, what would settle it, and what each remedy may gain',
  named: 'a case folder, a .trinadir.zip, the id of a stored case, or a described situation (.json)',
  rulesOption: 'signed rules for a situation that is not for training',
  notJson: 'The situation cannot be read as JSON.',
  wrong: 'The situation does not fit at {field} ({problem}).',
  wrongNext: 'Its fields are those of docs/situation.md; the first is "format": "trinadir.situation/1".',
  rulesUnfit: 'A case brings its own rules.',
  rulesUnfitNext: 'Leave --rules out, or add the rules to the case and sign them.',
  training: 'TRAINING: invented data, training rules. Nothing of it is of a patient.',
  titled: 'Situation  {title}',
});
