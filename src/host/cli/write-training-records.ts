import { mkdir, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { drawContrastRun } from '../../core/phantom/contrast-run.ts';
import { drawTrainingEcg, drawTrainingPressures, makeTrainingContrast, TRAINING_ECG, type TrainingPressures } from '../../core/phantom/training-result.ts';
import { writeContrastRegions } from '../../formats/contrast/parse-contrast-regions.ts';
import { TRAINING_NOTE } from '../../formats/dicom/write-ct-slice.ts';
import { writeCsvRecording } from '../../formats/waveform/write-csv-recording.ts';
import { packContrastRun } from '../contrast/write-contrast-run.ts';

/** What a person would hand in after release, by file name. */
export const TRAINING_RECORDS = {
  pressuresBefore: 'pressures-before-balloon.csv', pressuresAfter: 'pressures-after-release.csv', ecgBefore: 'ecg-before.csv', ecgAfter: 'ecg-after-release.csv', aortogram: 'aortogram.dcm',
} as const;

/** Recordings of the training case from seeded models of a heart with a mild leak, beside their exact truth. Same seed, same bytes. */
export async function writeTrainingRecords(folder: string, seed: number): Promise<void> {
  const pressures = drawTrainingPressures(seed);
  const contrast = makeTrainingContrast(seed);
  const drawn = drawContrastRun(contrast);
  const { aorta: _aorta, outflow: _outflow, ...contrastTruth } = drawn.truth;
  await rm(folder, { recursive: true, force: true });
  await mkdir(folder, { recursive: true });
  const put = (name: string, content: string | Uint8Array): Promise<void> => writeFile(join(folder, name), content);
  const { pressuresBefore, pressuresAfter, ecgBefore, ecgAfter, aortogram } = TRAINING_RECORDS;
  await put(pressuresBefore, writeCsvRecording(pressures.before.recording, `${TRAINING_NOTE}: pressures before any balloon`));
  await put(pressuresAfter, writeCsvRecording(pressures.after.recording, `${TRAINING_NOTE}: pressures after release`));
  await put(ecgBefore, writeCsvRecording(drawTrainingEcg(seed, 'before'), `${TRAINING_NOTE}: ECG before`));
  await put(ecgAfter, writeCsvRecording(drawTrainingEcg(seed, 'after'), `${TRAINING_NOTE}: ECG after release`));
  await put(aortogram, packContrastRun(drawn, contrast));
  const truth = { note: TRAINING_NOTE, pressures: { before: describePressures(pressures.before), after: describePressures(pressures.after) }, ecg: TRAINING_ECG, aortogram: contrastTruth, regions: JSON.parse(writeContrastRegions({ ...drawn.truth.regions, background: null })) as unknown };
  await put('truth.json', `${JSON.stringify(truth, null, 1)}\n`);
}

/** Means over the drawn beats; what a reading of the file is held against. */
function describePressures({ truth: { beats, leakFraction } }: TrainingPressures): object {
  const mean = (of: (b: (typeof beats)[number]) => number): number => Math.round((100 * beats.reduce((sum, b) => sum + of(b), 0)) / beats.length) / 100;
  return {
    beats: beats.length, systolicMmHg: mean((b) => b.systolic), diastolicMmHg: mean((b) => b.diastolic), endDiastolicMmHg: mean((b) => b.endDiastolic), meanGradientMmHg: mean((b) => b.meanGradient),
    ratePerMin: mean((b) => 60 / b.lengthS), leakFraction: Math.round(1e4 * leakFraction) / 1e4,
  };
}
