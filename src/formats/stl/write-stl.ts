import type { TriangleMesh } from '../../core/surface/mesh-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';

export type WriteStlFailureCode = 'stl-header-unusable' | 'stl-mesh-broken';
const HEADER_BYTES = 80;
const TRIANGLE_BYTES = 50;

/**
 * Binary STL, little endian: 80 header bytes, count, then per triangle the unit normal, three corners and two zero bytes.
 *
 * Units     STL has none; the numbers are mm, which the header text should say
 * Frame     LPS, as in the mesh
 * Fails     stl-header-unusable: longer than 80 bytes (a caution is never cut short), not printable ASCII, or begins with
 *           "solid" (which readers take for the text form); stl-mesh-broken: a vertex missing or not finite
 */
export function writeStl(
  mesh: TriangleMesh,
  headerText: string,
): Result<Uint8Array<ArrayBuffer>, WriteStlFailureCode> {
  if (!/^[ -~]*$/.test(headerText) || headerText.length > HEADER_BYTES || /^solid/i.test(headerText)) {
    return fail(
      'stl-header-unusable',
      `The header text has ${headerText.length} characters or signs that STL does not hold.`,
      'Use at most 80 printable ASCII characters that do not begin with "solid".',
      { length: headerText.length },
    );
  }
  const { verticesLpsMm: p, triangles: t } = mesh;
  const count = t.length / 3;
  const vertexCount = p.length / 3;
  if (!(
    Number.isInteger(count) &&
    Number.isInteger(vertexCount) &&
    t.every((v) => v < vertexCount) &&
    p.every(Number.isFinite)
  )) {
    return fail(
      'stl-mesh-broken',
      'The surface names a vertex that does not exist or is not finite.',
      'Extract the surface again.',
      { triangles: count, vertices: vertexCount },
    );
  }
  const bytes = new Uint8Array(HEADER_BYTES + 4 + TRIANGLE_BYTES * count);
  for (let i = 0; i < HEADER_BYTES; i++) bytes[i] = i < headerText.length ? headerText.charCodeAt(i) : 0x20;
  const view = new DataView(bytes.buffer);
  view.setUint32(HEADER_BYTES, count, true);
  for (let f = 0, at = HEADER_BYTES + 4; f < count; f++, at += TRIANGLE_BYTES) {
    const a = 3 * t[3 * f]!,
      b = 3 * t[3 * f + 1]!,
      c = 3 * t[3 * f + 2]!;
    const ux = p[b]! - p[a]!,
      uy = p[b + 1]! - p[a + 1]!,
      uz = p[b + 2]! - p[a + 2]!;
    const vx = p[c]! - p[a]!,
      vy = p[c + 1]! - p[a + 1]!,
      vz = p[c + 2]! - p[a + 2]!;
    const nx = uy * vz - uz * vy,
      ny = uz * vx - ux * vz,
      nz = ux * vy - uy * vx;
    const length = Math.sqrt(nx * nx + ny * ny + nz * nz);
    const scale = length > 0 ? 1 / length : 0; // a triangle without area has the zero normal
    view.setFloat32(at, nx * scale, true);
    view.setFloat32(at + 4, ny * scale, true);
    view.setFloat32(at + 8, nz * scale, true);
    let to = at + 12;
    for (const corner of [a, b, c]) {
      view.setFloat32(to, p[corner]!, true);
      view.setFloat32(to + 4, p[corner + 1]!, true);
      view.setFloat32(to + 8, p[corner + 2]!, true);
      to += 12;
    }
  }
  return succeed(bytes);
}
