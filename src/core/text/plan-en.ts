import { makeCatalogue } from './catalogue.ts';

/** Words of `trinadir plan`. */
export const PLAN_EN = makeCatalogue({
  looking: 'Looking at the files',
  reading: 'Reading the volume',
  surveying: 'Measuring the root',
  drawing: 'Drawing the pages',
  answer: 'Answer',
  doubt: 'Doubt',
  next: 'Next',
  written: 'Written',
  ring: 'By its perimeter the ring is as wide as a circle of {value} mm ({low} to {high} mm, 95 %).',
  ringSizes: 'Area {area} mm2, perimeter {perimeter} mm, diameters {min} and {max} mm.',
  ringRefused: 'The ring was not measured: {why}',
  rootNotAsked: 'The scan was looked at; the root was not asked for.',
  scanFit: 'The scan is fit for measuring the root.',
  scanDoubt: 'The scan can be measured, with doubt.',
  noDoubt: 'Nothing found stands against these numbers.',
  look: 'Look at the cuts in plan.html: does each line follow the wall, each letter stand at the nadir of its cusp?',
  noStop: 'The scan is not fit for measuring the root.',

  onlyUnknown: 'There is no section of that name. The sections are: {sections}.',
  onlyNext: 'Name one or more of them, with commas between.',
  onlyNotYet: 'This version does not answer: {sections}.',
  onlyNotYetNext: 'Leave --only out for all that this version answers.',
  devicesNotYet: 'A device table was given and its hash noted; this version does not compute sizes yet.',
  devicesNotYetNext: 'Compare the ring with the table by hand.',
  patientNotYet: 'A patient file was given and its hash noted; no section of this version uses it yet.',
  patientNotYetNext: 'Nothing to do here.',
});
