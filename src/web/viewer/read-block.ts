import { fail, succeed, type Result } from '../../core/result.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';
import { callApi } from '../api/call-api.ts';

export type BlockFailureCode = 'block-not-understood' | (string & {});

/**
 * The CT around the root, of the measured series or of another phase.
 * Fails     as the server says, block-not-understood
 */
export async function readBlock(caseId: string, seriesUid: string | null, report: (doneRatio: number) => void): Promise<Result<CtVolume, BlockFailureCode>> {
  const answer = await callApi('readBlock', { params: { caseId }, query: seriesUid === null ? {} : { seriesUid } });
  if (!answer.ok) return answer;
  const bytes = await readAll(answer.value, report).catch(() => null);
  return bytes === null ? fail('block-cut-off', VIEWER_EN.blockCutOff, VIEWER_EN.blockNext, {}) : parseBlock(answer.value.headers, bytes);
}

/** A block from its header fields and bytes; whatever does not fit together is refused. */
function parseBlock(headers: Pick<Headers, 'get'>, bytes: ArrayBuffer): Result<CtVolume, BlockFailureCode> {
  const dims = readNumbers(headers.get('x-dims'));
  const rows = readNumbers(headers.get('x-lps-from-voxel'));
  const padding = readNumbers(headers.get('x-padding-hu'))[0];
  const [nx, ny, nz] = dims as [number, number, number];
  const isSound = dims.length === 3 && dims.every((n) => Number.isInteger(n) && n >= 2) && rows.length === 12 && rows.every(Number.isFinite) && bytes.byteLength === 2 * nx * ny * nz;
  if (!isSound) return fail('block-not-understood', VIEWER_EN.blockNotUnderstood, VIEWER_EN.blockNext, { bytes: bytes.byteLength, dims: dims.join(' ') });
  const lengthOf = (c: number): number => Math.hypot(rows[c]!, rows[c + 4]!, rows[c + 8]!);
  return succeed({
    samplesHu: new Int16Array(bytes), dims: [nx, ny, nz], lpsFromVoxel: { to: 'lps', from: 'voxel', rows },
    spacingMm: [lengthOf(0), lengthOf(1), lengthOf(2)], paddingHu: padding !== undefined && Number.isFinite(padding) ? padding : null,
  });
}

/** Numbers of a header field, parted by commas or spaces, with or without brackets. */
function readNumbers(text: string | null): number[] {
  if (text === null || text.trim() === '' || text === 'null') return [];
  return text.replace(/[[\]]/g, ' ').trim().split(/[\s,]+/).map(Number);
}

async function readAll(response: Response, report: (doneRatio: number) => void): Promise<ArrayBuffer> {
  const whole = Number(response.headers.get('content-length'));
  if (!response.body || !(whole > 0)) return response.arrayBuffer();
  const bytes = new Uint8Array(whole);
  const reader = response.body.getReader();
  let at = 0;
  for (let part = await reader.read(); !part.done; part = await reader.read()) {
    // More than announced: the bytes were compressed on the way, or are not what was said; parseBlock decides.
    if (at + part.value.length > bytes.length) return new ArrayBuffer(0);
    bytes.set(part.value, at);
    at += part.value.length;
    report(at / whole);
  }
  return at === whole ? bytes.buffer : new ArrayBuffer(0);
}
