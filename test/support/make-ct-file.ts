/** A minimal CT slice as an explicit little-endian DICOM file, for tests of intake. */
export interface TestSlice {
  readonly zMm: number;
  readonly xMm?: number;
  readonly yMm?: number;
  readonly rows?: number;
  readonly columns?: number;
  readonly pixelMm?: readonly [number, number];
  readonly thicknessMm?: number;
  readonly orientation?: readonly number[];
  readonly seriesUid?: string;
  readonly instance?: number;
  readonly modality?: string;
  readonly sopClassUid?: string;
  readonly patientId?: string;
  readonly patientName?: string;
  readonly position?: string;
  readonly phasePercent?: number;
  readonly acquisition?: number;
  readonly description?: string;
  readonly imageType?: string;
  /** HU at column i, row j; default air with a soft body and a bright tube of blood in it. */
  readonly hu?: (i: number, j: number) => number;
}

const SHORT = new Set(['AE', 'AS', 'CS', 'DA', 'DS', 'FD', 'IS', 'LO', 'LT', 'PN', 'SH', 'SS', 'ST', 'TM', 'UI', 'US']);

function element(group: number, number: number, vr: string, value: string | number[] | Buffer | number): Buffer {
  let body: Buffer;
  if (typeof value === 'string') body = Buffer.from(value.length % 2 === 1 ? value + (vr === 'UI' ? '\0' : ' ') : value, 'latin1');
  else if (Buffer.isBuffer(value)) body = value;
  else if (vr === 'FD') {
    body = Buffer.alloc(8);
    body.writeDoubleLE(value as number);
  } else {
    const words = Array.isArray(value) ? value : [value];
    body = Buffer.alloc(2 * words.length);
    words.forEach((word, i) => body.writeUInt16LE(word, 2 * i));
  }
  const isShort = SHORT.has(vr);
  const head = Buffer.alloc(isShort ? 8 : 12);
  head.writeUInt16LE(group, 0);
  head.writeUInt16LE(number, 2);
  head.write(vr, 4, 'latin1');
  if (isShort) head.writeUInt16LE(body.length, 6);
  else head.writeUInt32LE(body.length, 8);
  return Buffer.concat([head, body]);
}

/** Blood of 380 HU in a tube of a fifth of the width, in a body of soft tissue, in air. */
export function drawTube(i: number, j: number, columns: number, rows: number): number {
  const r = Math.hypot((i - columns / 2) / columns, (j - rows / 2) / rows);
  return r < 0.1 ? 380 : r < 0.45 ? 50 : -1000;
}

export function makeCtFile(slice: TestSlice): Buffer {
  const rows = slice.rows ?? 64;
  const columns = slice.columns ?? 64;
  const seriesUid = slice.seriesUid ?? '1.2.3.4';
  const instance = slice.instance ?? Math.round(slice.zMm * 100);
  const uid = `${seriesUid}.${Math.abs(instance)}.${slice.phasePercent ?? 0}.${slice.acquisition ?? 0}${instance < 0 ? '.1' : ''}`;
  const sopClassUid = slice.sopClassUid ?? '1.2.840.10008.5.1.4.1.1.2';
  const pixels = Buffer.alloc(rows * columns * 2);
  for (let j = 0; j < rows; j++) {
    for (let i = 0; i < columns; i++) {
      const hu = slice.hu ? slice.hu(i, j) : drawTube(i, j, columns, rows);
      pixels.writeInt16LE(Math.round(hu) + 1024, 2 * (j * columns + i));
    }
  }
  const meta = Buffer.concat([
    element(2, 1, 'OB', Buffer.from([0, 1])), element(2, 2, 'UI', sopClassUid), element(2, 3, 'UI', uid),
    element(2, 0x10, 'UI', '1.2.840.10008.1.2.1'), element(2, 0x12, 'UI', '1.2.3.999'),
  ]);
  const length = Buffer.alloc(4);
  length.writeUInt32LE(meta.length);
  const metaLength = Buffer.concat([Buffer.from([2, 0, 0, 0]), Buffer.from('UL'), Buffer.from([4, 0]), length]);
  const [rowMm, columnMm] = slice.pixelMm ?? [2.5, 2.5];
  return Buffer.concat([
    Buffer.alloc(128), Buffer.from('DICM'), metaLength, meta,
    element(8, 8, 'CS', slice.imageType ?? 'ORIGINAL\\PRIMARY\\AXIAL'),
    element(8, 0x16, 'UI', sopClassUid), element(8, 0x18, 'UI', uid),
    element(8, 0x60, 'CS', slice.modality ?? 'CT'),
    ...(slice.description === undefined ? [] : [element(8, 0x103e, 'LO', slice.description)]),
    element(0x10, 0x10, 'PN', slice.patientName ?? 'Test^One'), element(0x10, 0x20, 'LO', slice.patientId ?? 'T1'),
    element(0x18, 0x50, 'DS', String(slice.thicknessMm ?? 1)), element(0x18, 0x5100, 'CS', slice.position ?? 'HFS'),
    element(0x20, 0xd, 'UI', '1.2.3'), element(0x20, 0xe, 'UI', seriesUid), element(0x20, 0x11, 'IS', '7'),
    element(0x20, 0x12, 'IS', String(slice.acquisition ?? 1)), element(0x20, 0x13, 'IS', String(instance)),
    element(0x20, 0x32, 'DS', [slice.xMm ?? -80, slice.yMm ?? -80, slice.zMm].join('\\')),
    element(0x20, 0x37, 'DS', (slice.orientation ?? [1, 0, 0, 0, 1, 0]).join('\\')),
    element(0x20, 0x52, 'UI', '1.2.3.5'),
    ...(slice.phasePercent === undefined ? [] : [element(0x20, 0x9241, 'FD', slice.phasePercent)]),
    element(0x28, 2, 'US', 1), element(0x28, 4, 'CS', 'MONOCHROME2'), element(0x28, 0x10, 'US', rows), element(0x28, 0x11, 'US', columns),
    element(0x28, 0x30, 'DS', `${rowMm}\\${columnMm}`),
    element(0x28, 0x100, 'US', 16), element(0x28, 0x101, 'US', 16), element(0x28, 0x102, 'US', 15), element(0x28, 0x103, 'US', 0),
    element(0x28, 0x1052, 'DS', '-1024'), element(0x28, 0x1053, 'DS', '1'), element(0x28, 0x1054, 'LO', 'HU'),
    element(0x7fe0, 0x10, 'OW', pixels),
  ]);
}
