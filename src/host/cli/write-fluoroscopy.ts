import { mkdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { drawFluoroscopyRun } from '../../core/phantom/draw-fluoroscopy.ts';
import type { PhantomTruth } from '../../core/phantom/phantom-types.ts';
import { makeTrainingFluoroscopy, type TrainingRun } from '../../core/phantom/training-fluoroscopy.ts';
import { TRAINING_NOTE } from '../../formats/dicom/write-ct-slice.ts';
import { writeXa } from '../../formats/dicom/write-xa.ts';

const FRAMES = 3;
const FRAME_TIME_MS = 66.7;

/**
 * Fluoroscopy of the training case beside its CT: two runs as DICOM, their marks as frames.json, the exact depth as truth.json.
 * `ctFolder` is what the phantom wrote.
 */
export async function writeFluoroscopy(ctFolder: string, folder: string): Promise<void> {
  const truth = JSON.parse(await readFile(join(ctFolder, 'truth.json'), 'utf8')) as PhantomTruth & { readonly scan: { readonly seed: number } };
  const { seed } = truth.scan;
  const made = makeTrainingFluoroscopy(truth, seed);
  await rm(folder, { recursive: true, force: true });
  await mkdir(folder, { recursive: true });
  for (const [r, { camera }] of made.runs.entries()) {
    const pixels = drawFluoroscopyRun(made.scene, camera, Array.from({ length: FRAMES }, (_, f) => ({ seed: seed + 100 * (r + 1) + f, ratio: 0.5 })));
    await writeFile(join(folder, `run-${r + 1}.dcm`), writeXa(pixels, camera, { seed, runNumber: r + 1, frameTimeMs: FRAME_TIME_MS, description: `TRAINING invented fluoroscopy ${r + 1}` }));
  }
  const frames = { format: 'trinadir.frames/1', training: true, note: TRAINING_NOTE, frames: made.runs.map(describeFrame) };
  await writeFile(join(folder, 'frames.json'), `${JSON.stringify(frames, null, 1)}\n`);
  await writeFile(join(folder, 'truth.json'), `${JSON.stringify({ note: TRAINING_NOTE, ...made.truth, scene: made.scene, marks: made.runs.map((run) => run.marks) }, null, 1)}\n`);
}

function describeFrame({ camera, clicks, clickSdPx }: TrainingRun): object {
  const { primaryDeg, secondaryDeg, sourceToImageMm, sourceToPatientMm, pixelMm, columns, rows } = camera;
  const round = (v: number): number => Math.round(v * 100) / 100;
  const points = (list: readonly (readonly [number, number])[]): number[][] => list.map(([c, r]) => [round(c), round(r)]);
  return {
    primaryDeg, secondaryDeg, sourceToImageMm, sourceToPatientMm, pixelMm, columns, rows,
    marks: { cuspN: points(clicks.cuspN), frameInflow: clicks.frameInflow.map(points), frameAxis: clicks.frameAxis.map(points) }, clickSdPx: round(clickSdPx),
  };
}
