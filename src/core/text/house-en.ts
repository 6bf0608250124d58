import { makeCatalogue } from './catalogue.ts';

/** Words of the house: cautions that go on every page and export, the command line, the demo pages. */
export const HOUSE_EN = makeCatalogue({
  caution:
    "A planning aid for research and teaching, not a medical device; the device's instructions for use, local protocol and licensed practice decide.",
  training: 'training, invented sizes',

  program: 'Planning aid for transcatheter aortic valve implantation: one CT in; measured root, size, landing window, views and release forecast out; after release, what pressures, echo and angiogram say of the leak.',
  version: 'print the version',
  example: 'Example:',
  quiet: 'no progress on standard error',
  json: 'one JSON document on standard output; an error is one JSON line, the last on standard error',
  replace: 'replace the answer that the output folder holds',
  seeHelp: 'See trinadir --help.',
  seeVerbHelp: 'See trinadir {verb} --help.',
  unknownVerb: 'There is no such verb. The verbs are: {verbs}.',
  unknownOption: 'There is no option {option} here.',
  invalidOption: 'The value of {option} cannot be used. {why}',
  wholeNumber: 'It must be a whole number from {low} to {high}.',
  optionWithoutValue: 'The option {option} needs a value.',
  optionMissing: 'The option {option} is missing.',
  argumentMissing: 'The path of the input is missing.',
  wrongUsage: 'The command line cannot be read: it has words too many.',

  scanVerb: 'lists the series found at PATH and says whether each is fit for measuring the root',
  pathArgument: 'folder, zip, DICOMDIR, multi-frame file, NIfTI or NRRD volume',

  phantomVerb: 'writes an analytic aortic root as a CT series, with its exact sizes in truth.json',
  phantomOut: 'folder to write to',
  phantomShape: 'phantom file, or the name of a training root (see --list)',
  phantomSeed: 'seed of the root; with --shape, of its noise',
  phantomList: 'list the training roots',

  planVerb: 'measures the aortic root and answers what follows from it: writes plan (JSON, HTML, PDF), wall cards and surfaces',
  planOut: 'folder to write to',
  planSeries: 'UID of the series to measure (default: the one that scan proposes)',
  planDevices: 'device table of the hospital (devices.json)',
  planRules: 'the hospital’s signed rules (JSON); without it only the training rules act, and only with the training table',
  planPatient: 'values of the patient (patient.json)',
  planOnly: 'sections to answer, with commas between (default: all that this version answers)',
  planLandmarks: 'marks of a person (landmarks.json); they win over the found ones',

  demoVerb: 'makes the training case, answers every question for it and serves the pages on this machine',
  demoOut: 'folder of the training case (default: out/demo, made anew each time)',
  demoPort: 'port of the pages on 127.0.0.1 (default: 8471, or a free one)',
  demoOnce: 'write the answers and end',
  demoMakesCt: 'Making the training CT',
  demoPlans: 'Planning the training case',
  demoAnswers: 'The answers are in {folder}',
  demoServing: 'Open {url}\nThe pages are seen on this machine only. End with Ctrl-C.',
});
