import { PLAIN_CONTRAST, drawContrastRun, type ContrastShape } from '../../src/core/phantom/contrast-run.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../../src/core/phantom/simulate-circulation.ts';
import type { CirculationShape } from '../../src/core/phantom/circulation-types.ts';
import { encodeElements, joinBytes, u16, wrapPart10, type Elements } from '../fuzz/build-dicom.ts';

/** Aorta, ventricle and ECG of a drawn circulation as CSV, as a recorder exports it. */
export function makePressureCsv(shape: Partial<CirculationShape> = {}, seconds = 20, change: (aortic: number, i: number) => number = (v) => v): string {
  const hz = 250;
  const drawn = simulateCirculation({ ...PLAIN_CIRCULATION, ...shape }, seconds, hz, 7);
  const rows = ['time s;Ao mmHg;LV mmHg;ECG mV'];
  for (let i = 0; i < drawn.aorticMmHg.length; i++) rows.push(`${(i / hz).toFixed(3)};${change(drawn.aorticMmHg[i]!, i).toFixed(2)};${drawn.ventricularMmHg[i]!.toFixed(2)};${drawn.ecgMv[i]!.toFixed(4)}`);
  return `${rows.join('\n')}\n`;
}

/** A drawn injection into the root as an angiographic file, 12 bit, of the invented patient of make-run-file.ts. */
export function makeContrastFile(change: Partial<ContrastShape> = {}): { readonly bytes: Uint8Array; readonly truth: ReturnType<typeof drawContrastRun>['truth'] } {
  const shape: ContrastShape = { ...PLAIN_CONTRAST, ...change };
  const run = drawContrastRun(shape);
  const size = shape.rows * shape.columns;
  const pixels = new Uint8Array(2 * size * run.pixels.length);
  run.pixels.forEach((frame, k) => pixels.set(new Uint8Array(frame.buffer, frame.byteOffset, 2 * size), 2 * size * k));
  const elements: Elements = [
    [0x00080008, 'CS', 'ORIGINAL\\PRIMARY\\SINGLE PLANE'], [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.12.1'], [0x00080018, 'UI', '1.2.3.77'], [0x00080060, 'CS', 'XA'],
    [0x00100010, 'PN', 'Person^Invented'], [0x00100020, 'LO', 'INV-0042'], [0x00100030, 'DA', '19440517'],
    [0x00181063, 'DS', String(1000 / shape.framesPerS)], [0x00181110, 'DS', '1100'], [0x00181111, 'DS', '750'], [0x00181164, 'DS', '0.3\\0.3'], [0x00181500, 'CS', 'STATIC'], [0x00181510, 'DS', '10'], [0x00181511, 'DS', '-20'],
    [0x0020000d, 'UI', '1.2.3'], [0x0020000e, 'UI', '1.2.3.1'], [0x00280002, 'US', u16(1)], [0x00280004, 'CS', 'MONOCHROME2'], [0x00280008, 'IS', String(shape.frames)], [0x00280010, 'US', u16(shape.rows)],
    [0x00280011, 'US', u16(shape.columns)], [0x00280100, 'US', u16(16)], [0x00280101, 'US', u16(12)], [0x00280102, 'US', u16(11)], [0x00280103, 'US', u16(0)], [0x00281040, 'CS', 'LIN'], [0x00281050, 'DS', '2048'], [0x00281051, 'DS', '4096'],
    [0x7fe00010, 'OW', joinBytes([pixels])],
  ];
  return { bytes: wrapPart10(encodeElements([...elements].sort((a, b) => a[0] - b[0])), '1.2.840.10008.1.2.1'), truth: run.truth };
}
