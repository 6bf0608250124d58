import { makeCatalogue } from './catalogue.ts';

/** Words about angiographic runs that are handed in for a case. */
export const RUNS_EN = makeCatalogue({
  identityDiffers: 'The run and the referral do not name the same patient: {fields} differ.',
  identityDiffersNext: 'Look at the C-arm’s own screen. Hand in the right run, or say why this one belongs to the case all the same.',
  identityOpen: 'Whether the run is of the entered patient cannot be told: {fields} missing on one side.',
  identityOpenNext: 'Enter name, birth date and number in the referral, or say why this run belongs to the case all the same.',
  notTaken: 'The run did not arrive whole.',
  notTakenNext: 'Hand it in again.',
  slow: 'The run stopped arriving.',
  slowNext: 'Hand it in again; look at the network if it happens again.',
  tooLarge: 'The run has more than {bytes} bytes.',
  tooLargeNext: 'Export only the frames around the release.',
  unknown: 'The case has no such run.',
  unknownNext: 'Load the case again and choose from its runs.',
  gone: 'The file of this run is not in the store any more.',
  goneNext: 'Hand the run in again, or restore the store from its backup.',

  'gap-positioner-angles-missing': 'The run does not state at which angles it was taken.',
  'next-positioner-angles-missing': 'Enter the angles as the C-arm showed them.',
  'gap-angle-increments-unusable': 'The C-arm moved during the run, and the file does not say where it stood in each frame.',
  'next-angle-increments-unusable': 'Mark the first frame, or enter the angles of the frame that is marked.',
  'gap-distances-missing': 'The distances from the source are not stated.',
  'next-distances-missing': 'Enter them, or mark something of known size.',
  'gap-imager-spacing-missing': 'The file does not say how large a pixel is.',
  'next-imager-spacing-missing': 'Mark something of known size: a catheter or the frame.',
  'gap-pixels-not-square': 'The file states pixels that are not square.',
  'next-pixels-not-square': 'Mark something of known size along the depth.',
  'gap-picture-lossy': 'The run is stored with a lossy compression: fine edges may lie a pixel off.',
  'next-picture-lossy': 'Mark on the original run where it can be had.',
  'gap-patient-missing': 'The run names no patient.',
  'next-patient-missing': 'Look at the C-arm’s own screen that it is of this patient.',
});
