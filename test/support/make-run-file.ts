import { encodeElements, joinBytes, u16, wrapPart10, type Elements } from '../fuzz/build-dicom.ts';

export interface RunFile {
  readonly rows?: number;
  readonly columns?: number;
  readonly frames?: number;
  readonly name?: string | null;
  readonly patientId?: string | null;
  readonly birthDate?: string | null;
  /** Elements that replace those of the same tag, or are added. */
  readonly change?: Elements;
  readonly without?: readonly number[];
  /** Another transfer syntax with its encapsulated pixel data. */
  readonly packed?: { readonly syntax: string; readonly pixels: Uint8Array };
  /** Grey of one pixel; frames count from 0. */
  readonly grey?: (frame: number, row: number, column: number) => number;
}

/** A small angiographic run of a patient who does not exist, uncompressed, 8 bit: LAO 10 CAU 20, SID 1100, SOD 750, pixel 0.3. */
export function makeRunFile(run: RunFile = {}): Uint8Array {
  const { rows = 32, columns = 48, frames = 3, grey = (f, r, c) => (40 * f + r + c) % 256 } = run;
  const pixels = new Uint8Array(rows * columns * frames);
  for (let f = 0, i = 0; f < frames; f++) for (let r = 0; r < rows; r++) for (let c = 0; c < columns; c++) pixels[i++] = grey(f, r, c);
  const person: Elements = [
    [0x00100010, 'PN', run.name === undefined ? 'Person^Invented' : (run.name ?? '')],
    [0x00100020, 'LO', run.patientId === undefined ? 'INV-0042' : (run.patientId ?? '')],
    [0x00100030, 'DA', run.birthDate === undefined ? '19440517' : (run.birthDate ?? '')],
  ];
  const byTag = new Map<number, Elements[number]>();
  const all: Elements = [
    [0x00080008, 'CS', 'ORIGINAL\\PRIMARY\\SINGLE PLANE'], [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.12.1'], [0x00080018, 'UI', '1.2.3.41'], [0x00080060, 'CS', 'XA'], ...person,
    [0x00181110, 'DS', '1100'], [0x00181111, 'DS', '750'], [0x00181164, 'DS', '0.3\\0.3'], [0x00181500, 'CS', 'STATIC'], [0x00181510, 'DS', '10'], [0x00181511, 'DS', '-20'],
    [0x0020000d, 'UI', '1.2.3'], [0x0020000e, 'UI', '1.2.3.1'], [0x00280002, 'US', u16(1)], [0x00280004, 'CS', 'MONOCHROME2'], [0x00280008, 'IS', String(frames)], [0x00280010, 'US', u16(rows)],
    [0x00280011, 'US', u16(columns)], [0x00280100, 'US', u16(8)], [0x00280101, 'US', u16(8)], [0x00280102, 'US', u16(7)], [0x00280103, 'US', u16(0)], [0x00281050, 'DS', '128'], [0x00281051, 'DS', '256'],
    [0x7fe00010, 'OB', joinBytes([pixels, new Uint8Array(pixels.length % 2)])], ...(run.change ?? []),
  ];
  for (const element of all) byTag.set(element[0], element);
  for (const tag of run.without ?? []) byTag.delete(tag);
  if (run.packed) byTag.delete(0x7fe00010);
  const body = encodeElements([...byTag.values()].sort((a, b) => a[0] - b[0]));
  return run.packed ? wrapPart10(joinBytes([body, run.packed.pixels]), run.packed.syntax) : wrapPart10(body, '1.2.840.10008.1.2.1');
}
