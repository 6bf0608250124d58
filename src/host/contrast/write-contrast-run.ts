import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { drawContrastRun, PLAIN_CONTRAST, type ContrastShape, type DrawnContrastRun } from '../../core/phantom/contrast-run.ts';
import { writeContrastRegions } from '../../formats/contrast/parse-contrast-regions.ts';
import { TRAINING_NOTE } from '../../formats/dicom/write-ct-slice.ts';
import { writeXa } from '../../formats/dicom/write-xa.ts';
import type { WriteSyntax } from '../../formats/dicom/write-part10.ts';

/** Angle of the drawn run: invented, as all of it. */
const CAMERA = { primaryDeg: 0, secondaryDeg: 0, sourceToImageMm: 1100, sourceToPatientMm: 750, isocentreLps: [0, 0, 0] } as const;
const WIDTH_MM = 160;

/** A drawn run as one angiographic DICOM file. */
export function packContrastRun(drawn: DrawnContrastRun, shape: ContrastShape, syntax?: WriteSyntax): Uint8Array {
  const { columns, rows, seed, framesPerS } = shape;
  const pixels = new Uint16Array(columns * rows * drawn.pixels.length);
  drawn.pixels.forEach((frame, k) => pixels.set(frame, k * columns * rows));
  const camera = { ...CAMERA, columns, rows, pixelMm: WIDTH_MM / columns };
  const labels = { seed, runNumber: 1, frameTimeMs: Math.round(1e6 / framesPerS) / 1000, description: 'TRAINING invented aortogram' };
  return syntax === undefined ? writeXa(pixels, camera, labels) : writeXa(pixels, camera, labels, syntax);
}

/** Writes run.dcm, regions.json (exact places) and truth.json into a folder that is there. */
export async function writeContrastRun(folder: string, seed: number, change: Partial<ContrastShape> = {}): Promise<DrawnContrastRun['truth']> {
  const shape: ContrastShape = { ...PLAIN_CONTRAST, columns: 256, rows: 256, quanta: 2500, ...change, seed };
  const drawn = drawContrastRun(shape);
  await writeFile(join(folder, 'run.dcm'), packContrastRun(drawn, shape));
  await writeFile(join(folder, 'regions.json'), writeContrastRegions({ ...drawn.truth.regions, background: null }));
  await writeFile(join(folder, 'truth.json'), `${JSON.stringify({ note: TRAINING_NOTE, ...drawn.truth, shape }, null, 1)}\n`);
  return drawn.truth;
}
