import { makeCatalogue } from './catalogue.ts';

/**
 * Short words for the wall and the log, each a sentence of its own that says the same without the others: `not-`: what closes a
 * remedy; `ask-`: what is not known; `sign`: what speaks against it. Keys as in verdict-en.ts.
 */
export const VERDICT_ENTRY_EN = makeCatalogue({
  against: 'AGAINST: {list}.',
  more: '…',

  'not-mustLeak': 'Leak not above the line.',
  'not-mustBeside': 'Leak not beside the frame.',
  'not-mustBalloon': 'No balloon within limits.',
  'not-mustWaitKind': 'Not for this valve.',
  'not-mustWaitTime': 'Time is over.',
  'not-mustStable': 'Circulation needs help.',
  'not-mustSecondReason': 'Height right, leaflets tight.',
  'not-mustBox': 'No box ready.',
  'not-mustSnareKind': 'Not for this frame.',
  'not-mustDeeper': 'Not too deep.',
  'not-mustSnare': 'No snare ready.',
  'not-mustStand': 'Frame moves.',
  'not-mustClosure': 'No plug ready.',
  'not-mustSurgery': 'Not agreed before.',
  'ask-mustLeak': 'Leak above the line?',
  'ask-mustBeside': 'Leak beside the frame?',
  'ask-mustBalloon': 'Balloon limits?',
  'ask-mustWaitKind': 'For this valve?',
  'ask-mustWaitTime': 'How long?',
  'ask-mustStable': 'Circulation stable?',
  'ask-mustSecondReason': 'Wrong height, leaflets?',
  'ask-mustBox': 'Box ready?',
  'ask-mustSnareKind': 'For this frame?',
  'ask-mustDeeper': 'Too deep?',
  'ask-mustSnare': 'Snare ready?',
  'ask-mustStand': 'Frame still?',
  'ask-mustClosure': 'Plug ready?',
  'ask-mustSurgery': 'Agreed before?',
  signCalcium: 'calcium below the ring',
  signOffPlace: 'frame off its window',
  signOpen: 'frame fully open',
  signBalloonMoves: 'frame moves',
  signEffusion: 'effusion',
  signMoving: 'frame moves',
  signCoronary: 'coronary not filling',
});
