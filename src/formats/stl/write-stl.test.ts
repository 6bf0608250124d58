import { describe, expect, test } from 'vitest';
import type { TriangleMesh } from '../../core/surface/mesh-types.ts';
import { parseStl } from './parse-stl.ts';
import { writeStl } from './write-stl.ts';

const MESH: TriangleMesh = {
  verticesLpsMm: Float32Array.of(-12.5, 3.25, 700.125, 1, 0, 0, 0, 1, 0, 0, 0, 1),
  triangles: Uint32Array.of(1, 2, 3, 0, 3, 2, 2, 2, 2),
};
const HEADER = 'Training surface, LPS mm. Not for clinical use.';

function written(mesh: TriangleMesh = MESH, header = HEADER): Uint8Array<ArrayBuffer> {
  const result = writeStl(mesh, header);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}
const parseCode = (bytes: Uint8Array): string => {
  const result = parseStl(bytes);
  return result.ok ? '' : result.failure.code;
};
const writeCode = (mesh: TriangleMesh, header: string): string => {
  const result = writeStl(mesh, header);
  return result.ok ? '' : result.failure.code;
};

describe('writeStl', () => {
  test('comes back from parseStl corner by corner, with unit normals by the right-hand rule', () => {
    const back = parseStl(written());
    if (!back.ok) throw new Error(back.failure.message);
    expect(back.value.headerText).toBe(HEADER);
    expect([...back.value.cornersMm.subarray(0, 9)]).toEqual([1, 0, 0, 0, 1, 0, 0, 0, 1]);
    expect([...back.value.cornersMm.subarray(9, 18)]).toEqual([-12.5, 3.25, 700.125, 0, 0, 1, 0, 1, 0]);
    for (const c of [0, 1, 2]) expect(Math.abs(back.value.normals[c]! - 1 / Math.sqrt(3))).toBeLessThan(1e-7); // float32
    expect([...back.value.normals.subarray(6, 9)]).toEqual([0, 0, 0]); // no area, no direction
  });
  test('has 84 + 50 n bytes, the count little endian, and is the same twice', () => {
    const bytes = written();
    expect(bytes.length).toBe(84 + 150);
    expect([...bytes.subarray(80, 84)]).toEqual([3, 0, 0, 0]);
    expect(written()).toEqual(bytes);
  });
  test('refuses a header that would be cut, misread or not held', () => {
    expect(writeCode(MESH, 'x'.repeat(80))).toBe('');
    expect(writeCode(MESH, 'x'.repeat(81))).toBe('stl-header-unusable');
    expect(writeCode(MESH, 'solid root')).toBe('stl-header-unusable');
    expect(writeCode(MESH, 'Größe')).toBe('stl-header-unusable');
  });
  test('refuses a broken mesh', () => {
    expect(writeCode({ ...MESH, triangles: Uint32Array.of(0, 1, 4) }, '')).toBe('stl-mesh-broken');
    expect(writeCode({ ...MESH, triangles: Uint32Array.of(0, 1) }, '')).toBe('stl-mesh-broken');
    expect(writeCode({ ...MESH, verticesLpsMm: Float32Array.of(0, NaN, 0) }, '')).toBe('stl-mesh-broken');
  });
});

describe('parseStl', () => {
  test('refuses short, cut, over-long and text input', () => {
    const bytes = written();
    expect(parseCode(bytes.subarray(0, 83))).toBe('stl-truncated');
    for (let cut = 84; cut < bytes.length; cut += 7)
      expect(parseCode(bytes.subarray(0, cut))).toBe('stl-length-mismatch');
    expect(parseCode(Uint8Array.of(...bytes, 0))).toBe('stl-length-mismatch');
    expect(parseCode(new TextEncoder().encode(`solid a${' '.repeat(200)}endsolid a`))).toBe(
      'stl-length-mismatch',
    );
  });
  test('refuses a corner that is not a number', () => {
    const bytes = written();
    new DataView(bytes.buffer).setFloat32(84 + 12, NaN, true);
    expect(parseCode(bytes)).toBe('stl-not-finite');
  });
});
