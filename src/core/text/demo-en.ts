import { makeCatalogue } from './catalogue.ts';

/** Words of the training case after release, on the command line and in the desk. */
export const DEMO_EN = makeCatalogue({
  makesRecords: 'Making pressures, ECG, echo and aortogram of the training case',
  answersRecords: 'Answering from them',
  because: 'Training: the patient is invented, and the file names nobody.',
  releasedLabel: 'Training case, after release',
  doubtBecause: 'Training: looked at by the invented team.',
  stopWhen: 'The edge passes the stop depth, or the pressure does not come back in 10 s.',
  loading: 'Training, invented: sedated, breathing freely, no vasopressor',
  echoMeanGradient: 'Mean gradient',
  echoArea: 'Effective area',
  echoIndex: 'Doppler index',
  echoStroke: 'Stroke volume',
  echoCircumference: 'Leak, share of the circumference',
  echoVolume: 'Leak, volume',
  echoFraction: 'Leak, fraction',
  echoRow: '{name} {value} {band}',
  echoPlace: 'The leak is seen: {place}',
  echoAgrees: 'The entered numbers agree with one another.',
  released: 'After release: handed in {records}\n               answered  {result}\n               the case  {caseFolder} (two invented readers have stored their own grades)\nAgain: trinadir verdict {caseFolder}',
});
