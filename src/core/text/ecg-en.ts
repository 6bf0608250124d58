import { makeCatalogue } from './catalogue.ts';

/** What is doubtful or suspected in an ECG record. */
export const ECG_EN = makeCatalogue({
  none: 'The recording has no ECG channel in mV.', noneNext: 'Record an ECG, or name its channel with --channels.',
  flat: 'Lead {lead} is flat.', flatNext: 'Check the electrode and record again.',
  gap: 'Lead {lead} has gaps.', gapNext: 'Take a part of the record without gaps.',
  fewBeats: '{count} beats of one form are too few to read.', fewBeatsNext: 'Record at least ten seconds without movement.',
  slow: 'At {rate} samples a second the edges of P and QRS are coarse.', slowNext: 'Record with 250 samples a second or more.',
  leadsFew: 'Read on {count} lead(s): a wave may begin earlier or end later in another one.', leadsFewNext: 'Record 12 leads and read them together.',
  leadsDiffer: '{count} ECG channel(s) of another rate or start were left out.', leadsDifferNext: 'Record all leads at once.',
  formsMany: 'No form of QRS makes up most of the beats.', formsManyNext: 'A person reads the intervals on beats of the same form.',
  secondForm: 'A second form of QRS makes up {share} % of the beats and was not measured.', secondFormNext: 'A person looks at both forms: ectopy, pacing, or a block that comes and goes.',
  irregular: 'The beats are irregular.', irregularNext: 'A person says which rhythm it is.',
  pNotFound: 'No P wave was found before the QRS.', pNotFoundNext: 'A person says which rhythm it is (atrial fibrillation, paced, other), and reads PR by hand if there is one.',
  pNotConstant: 'Too few beats show a P wave at the same place.',
  edgesUnclear: 'The QRS does not end in a quiet stretch.', edgesUnclearNext: 'Read QRS by hand, or record again with less noise.',
  spikes: 'Sharp spikes stand before the beats, as of a pacemaker.', spikesNext: 'A person says whether the beats are paced; intervals of paced beats do not count.',
  'suspected-two-to-one': '2:1 AV block suspected: {count} beats with a second P wave in the middle, first at {at} s.',
  'suspected-dropped-beat': 'Dropped beat suspected: {count} pause(s) with a P wave and no QRS, PR before it constant or not measured, first at {at} s.',
  'suspected-dropped-beat-growing-pr': 'Dropped beat with growing PR suspected: {count} pause(s), first at {at} s.',
  'suspected-pause': '{count} pause(s) without a P wave that could be told, first at {at} s.',
  'suspected-slow-without-p': 'Slow regular QRS without a P wave that belongs to it ({count} beats from {at} s): escape rhythm in complete AV block is possible.',
  suspectedNext: 'A person looks at the strip and enters the AV block.',
  paced: 'The beats are paced: their intervals do not count.', pacedNext: 'Record an ECG with pacing off or below the own rate, when that is safe.',
  rhythmMissing: 'Which rhythm the record shows is not entered.', rhythmMissingNext: 'A person says the rhythm: sinus, atrial fibrillation, paced, other.',
  completeBlock: 'Complete AV block has no PR.',
  fibrillation: 'Atrial fibrillation has no PR.', fibrillationNext: 'Record again when the rhythm changes.',
});
