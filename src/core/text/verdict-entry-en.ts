import { makeCatalogue } from './catalogue.ts';

/** Short words for the wall and the log: what speaks against a remedy, what closes it, what is not known. Keys as in verdict-en.ts. */
export const VERDICT_ENTRY_EN = makeCatalogue({
  against: 'AGAINST: {list}.',
  not: 'Not: {what}.',
  unknown: 'Not known: {list}.',
  more: '…',

  mustLeak: 'leak above the line',
  mustBeside: 'leak beside the frame',
  mustBalloon: 'a balloon within limits',
  mustWaitKind: 'for this valve',
  mustWaitTime: 'time left',
  mustStable: 'stable circulation',
  mustSecondReason: 'wrong height or leaflets leak',
  mustBox: 'box ready',
  mustSnareKind: 'for this frame',
  mustDeeper: 'too deep',
  mustSnare: 'snare ready',
  mustStand: 'frame still',
  mustClosure: 'plug ready',
  mustSurgery: 'agreed before',
  signCalcium: 'calcium below the ring',
  signOffPlace: 'frame off its window',
  signOpen: 'frame fully open',
  signBalloonMoves: 'frame moves',
  signEffusion: 'effusion',
  signMoving: 'frame moves',
  signCoronary: 'coronary not filling',
});
