import { fail, succeed, type Result } from '../../core/result.ts';

export type ParseStlFailureCode = 'stl-truncated' | 'stl-length-mismatch' | 'stl-not-finite';

/** Triangles of a binary STL as they stand in the file: corners are repeated, no vertex is shared. */
export interface StlTriangles {
  readonly headerText: string;
  /** Nine numbers per triangle. Frame and unit are what the writer says in the header. */
  readonly cornersMm: Float32Array;
  /** Three numbers per triangle. */
  readonly normals: Float32Array;
}

/**
 * Reads binary STL.
 * Fails   stl-truncated (under 84 bytes), stl-length-mismatch (the count does not fit the length; also the text form),
 *         stl-not-finite (a corner that is not a number)
 */
export function parseStl(bytes: Uint8Array): Result<StlTriangles, ParseStlFailureCode> {
  if (bytes.length < 84) {
    return fail('stl-truncated', `${bytes.length} bytes are no binary STL.`, 'Write the file again.', {
      bytes: bytes.length,
    });
  }
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const count = view.getUint32(80, true);
  if (bytes.length !== 84 + 50 * count) {
    return fail(
      'stl-length-mismatch',
      `${bytes.length} bytes do not hold the ${count} triangles announced.`,
      'Use binary STL and write the file again.',
      { bytes: bytes.length, count },
    );
  }
  const cornersMm = new Float32Array(9 * count);
  const normals = new Float32Array(3 * count);
  let isFinite = true;
  for (let f = 0, at = 84; f < count; f++, at += 50) {
    for (let c = 0; c < 3; c++) normals[3 * f + c] = view.getFloat32(at + 4 * c, true);
    for (let c = 0; c < 9; c++) {
      const value = view.getFloat32(at + 12 + 4 * c, true);
      cornersMm[9 * f + c] = value;
      isFinite &&= Number.isFinite(value);
    }
  }
  if (!isFinite)
    return fail('stl-not-finite', 'A corner is not a number.', 'Write the file again.', { count });
  const headerText = String.fromCharCode(...bytes.subarray(0, 80)).replace(/[ \0]+$/, '');
  return succeed({ headerText, cornersMm, normals });
}
