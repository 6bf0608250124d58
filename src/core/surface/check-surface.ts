import type { TriangleMesh } from './mesh-types.ts';

export interface SurfaceReport {
  readonly vertexCount: number;
  readonly triangleCount: number;
  readonly edgeCount: number;
  /** Edges with one triangle. */
  readonly borderEdgeCount: number;
  /** Edges with more than two triangles, or with two that run the same way. */
  readonly brokenEdgeCount: number;
  /** Triangles that name a vertex twice or one that does not exist. */
  readonly brokenTriangleCount: number;
  readonly isClosed: boolean;
  readonly isManifold: boolean;
  /** V - E + F over the vertices in use: 2 per sphere, 0 per torus. */
  readonly euler: number;
  readonly areaMm2: number;
  /** Enclosed volume, positive with outward normals; meaningful for a closed surface. */
  readonly volumeMm3: number;
}

/**
 * What a triangle mesh is: closed, every edge shared by two triangles that run it in opposite ways, and its measures.
 * Equation  A = sum |e1 x e2| / 2; V = sum p0 . (p1 x p2) / 6 about the first vertex (divergence theorem)
 * Accuracy  float64 sums over float32 vertices
 */
export function measureSurface(mesh: TriangleMesh): SurfaceReport {
  const { verticesLpsMm: p, triangles: t } = mesh;
  const vertexCount = p.length / 3;
  const triangleCount = Math.floor(t.length / 3);
  // Both directions of an edge get the same whole part; the half tells them apart. Exact up to 2^25 vertices.
  const keys = new Float64Array(3 * triangleCount);
  const isUsed = new Uint8Array(vertexCount);
  let brokenTriangleCount = 0;
  let keyCount = 0;
  let twiceArea = 0;
  let sixVolume = 0;
  const ox = p[0] ?? 0,
    oy = p[1] ?? 0,
    oz = p[2] ?? 0;
  for (let at = 0; at < 3 * triangleCount; at += 3) {
    const a = t[at]!,
      b = t[at + 1]!,
      c = t[at + 2]!;
    if (a === b || b === c || c === a || a >= vertexCount || b >= vertexCount || c >= vertexCount) {
      brokenTriangleCount++;
      continue;
    }
    isUsed[a] = isUsed[b] = isUsed[c] = 1;
    keys[keyCount++] = keyOf(a, b, vertexCount);
    keys[keyCount++] = keyOf(b, c, vertexCount);
    keys[keyCount++] = keyOf(c, a, vertexCount);
    const ax = p[3 * a]! - ox,
      ay = p[3 * a + 1]! - oy,
      az = p[3 * a + 2]! - oz;
    const bx = p[3 * b]! - ox,
      by = p[3 * b + 1]! - oy,
      bz = p[3 * b + 2]! - oz;
    const cx = p[3 * c]! - ox,
      cy = p[3 * c + 1]! - oy,
      cz = p[3 * c + 2]! - oz;
    const ux = bx - ax,
      uy = by - ay,
      uz = bz - az,
      vx = cx - ax,
      vy = cy - ay,
      vz = cz - az;
    const mx = uy * vz - uz * vy,
      my = uz * vx - ux * vz,
      mz = ux * vy - uy * vx;
    twiceArea += Math.sqrt(mx * mx + my * my + mz * mz);
    sixVolume += ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
  }
  const edges = countEdges(keys.subarray(0, keyCount).sort());
  let used = 0;
  for (let v = 0; v < vertexCount; v++) used += isUsed[v]!;
  return {
    vertexCount,
    triangleCount,
    ...edges,
    brokenTriangleCount,
    isClosed: triangleCount > 0 && brokenTriangleCount === 0 && edges.borderEdgeCount === 0,
    isManifold: brokenTriangleCount === 0 && edges.brokenEdgeCount === 0,
    euler: used - edges.edgeCount + (triangleCount - brokenTriangleCount),
    areaMm2: twiceArea / 2,
    volumeMm3: sixVolume / 6,
  };
}

const keyOf = (a: number, b: number, n: number): number => (a < b ? a * n + b : b * n + a + 0.5);

function countEdges(sorted: Float64Array): {
  edgeCount: number;
  borderEdgeCount: number;
  brokenEdgeCount: number;
} {
  let edgeCount = 0;
  let borderEdgeCount = 0;
  let brokenEdgeCount = 0;
  for (let at = 0; at < sorted.length; edgeCount++) {
    const edge = Math.floor(sorted[at]!);
    let forward = 0;
    let backward = 0;
    for (; at < sorted.length && Math.floor(sorted[at]!) === edge; at++) {
      if (sorted[at] === edge) forward++;
      else backward++;
    }
    if (forward + backward === 1) borderEdgeCount++;
    else if (forward !== 1 || backward !== 1) brokenEdgeCount++;
  }
  return { edgeCount, borderEdgeCount, brokenEdgeCount };
}

/** Sentences about what is wrong; empty means a closed, consistently turned surface with its normals outward. */
export function checkClosedSurface(mesh: TriangleMesh): readonly string[] {
  const r = measureSurface(mesh);
  const breaches: string[] = [];
  if (!r.isClosed) breaches.push(`${r.borderEdgeCount} of ${r.edgeCount} edges have one triangle only`);
  if (!r.isManifold)
    breaches.push(`${r.brokenEdgeCount} edges and ${r.brokenTriangleCount} triangles are not manifold`);
  if (!(r.volumeMm3 > 0)) breaches.push(`the enclosed volume is ${r.volumeMm3} mm3`);
  return breaches;
}
