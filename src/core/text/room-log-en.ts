import { makeCatalogue } from './catalogue.ts';

/** Words of the room's log on the server: pairing, refusals. */
export const ROOM_LOG_EN = makeCatalogue({
  recordDiffers: 'Record {record} has the number of another tap that the log holds.',
  recordDiffersNext: 'Give it a number of its own and send it again.',
  verdictNotShown: 'Record {record} is a verdict that was not shown so to a reader of this case.',
  verdictNotShownNext: 'Show the verdict on the Result page and put it on the wall from there.',
  placeNotYours: 'A paired remote logs as remote, and only as that.',
  placeNotYoursNext: 'Pair it again at the desk.',
  pairingUnknown: 'This code is not good: it was mistyped, used already, or is too old.',
  pairingUnknownNext: 'Make a new code at the desk and type it within {minutes} minutes.',
  pairingTries: 'Too many codes were tried from here.',
  pairingTriesNext: 'Wait {minutes} minutes, then make a new code at the desk.',
  pairingNeedless: 'A colleague is logged in in this browser, and needs no code.',
  pairingNeedlessNext: 'Open the room or the wall from the desk’s own pages, or log out first.',
  pairingCrowd: 'This room has {most} codes and paired screens already.',
  pairingCrowdNext: 'Let one go that is not used any more.',
  pairingGone: 'This wall or remote is not among those of the room.',
  pairingGoneNext: 'Read the list again.',
});
