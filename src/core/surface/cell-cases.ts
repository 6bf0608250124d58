/**
 * Triangles of the 256 ways a cell of eight samples can be cut, built from one rule instead of a copied table.
 *
 * Corner  number x + 2 y + 4 z; bit set = bright (at or above the level)
 * Edge    0-3 along x at (y, z) = (0,0) (1,0) (0,1) (1,1); 4-7 along y at (x, z); 8-11 along z at (x, y), same order
 * Rule    on every face each unbroken run of bright corners is cut off by one segment. Where two bright corners face
 *         each other across a diagonal they are therefore kept apart, and both cells of the face agree because the rule
 *         sees nothing but the face. Segments close to loops; each loop is split into triangles by diagonals that lie
 *         on no face, so that no edge can be shared by more than two triangles.
 * Source  docs/methods/isosurface.md
 */
export interface CellCases {
  /** Edge numbers, three per triangle, case after case. */
  readonly edges: Uint8Array;
  /** Case c uses edges[start[c]] .. edges[start[c + 1] - 1]. */
  readonly start: Uint16Array;
}

type Axis = 0 | 1 | 2;
type Coords = [number, number, number];

const cornerOf = (p: readonly number[]): number => p[0]! + 2 * p[1]! + 4 * p[2]!;
const cornerAt = (corner: number): Coords => [corner & 1, (corner >> 1) & 1, corner >> 2];

function edgeBetween(a: number, b: number): number {
  const p = cornerAt(Math.min(a, b));
  const axis = a - b === 1 || b - a === 1 ? 0 : a - b === 2 || b - a === 2 ? 1 : 2;
  if (axis === 0) return p[1] + 2 * p[2];
  return axis === 1 ? 4 + p[0] + 2 * p[2] : 8 + p[0] + 2 * p[1];
}

/** Four corners of each of the six faces, counter-clockwise as seen from outside the cell. */
function listFaces(): number[][] {
  const faces: number[][] = [];
  for (const axis of [0, 1, 2] as readonly Axis[]) {
    for (const side of [0, 1]) {
      const u = (axis + 1) % 3;
      const v = (axis + 2) % 3;
      const face = [
        [0, 0],
        [1, 0],
        [1, 1],
        [0, 1],
      ].map(([a, b]) => {
        const p: Coords = [0, 0, 0];
        p[axis] = side;
        p[u] = a!;
        p[v] = b!;
        return cornerOf(p);
      });
      faces.push(side === 1 ? face : face.reverse());
    }
  }
  return faces;
}

export const CELL_FACES: readonly (readonly number[])[] = listFaces();

/** Bit f set: the edge lies on face f. */
const facesOfEdge: readonly number[] = (() => {
  const masks = new Array<number>(12).fill(0);
  CELL_FACES.forEach((face, f) =>
    face.forEach((corner, at) => {
      masks[edgeBetween(corner, face[(at + 1) % 4]!)]! |= 1 << f;
    }),
  );
  return masks;
})();

const middleOfEdge = (edge: number): Coords => {
  const a = edge & 1;
  const b = (edge >> 1) & 1;
  return edge < 4 ? [0.5, a, b] : edge < 8 ? [a, 0.5, b] : [a, b, 0.5];
};

/** Closed loops of edge numbers for one case. */
function traceLoops(bright: number): number[][] {
  const next = new Map<number, number>();
  for (const face of CELL_FACES) {
    for (let at = 0; at < 4; at++) {
      const isBright = (c: number): boolean => ((bright >> face[c % 4]!) & 1) === 1;
      if (!isBright(at) || isBright(at + 3)) continue;
      // A run of bright corners starts here; walk to its end.
      let end = at;
      while (isBright(end + 1)) end++;
      // In this direction the corners of the triangles run counter-clockwise as seen from the dark side.
      next.set(
        edgeBetween(face[(at + 3) % 4]!, face[at]!),
        edgeBetween(face[end % 4]!, face[(end + 1) % 4]!),
      );
    }
  }
  const loops: number[][] = [];
  while (next.size > 0) {
    const loop: number[] = [];
    let edge = Math.min(...next.keys());
    while (next.has(edge)) {
      loop.push(edge);
      const following = next.get(edge)!;
      next.delete(edge);
      edge = following;
    }
    loops.push(loop);
  }
  return loops;
}

interface Split {
  readonly triangles: readonly number[];
  readonly cost: number;
}

/** Shortest set of allowed diagonals for loop[from .. to], whose closing side is from-to; null when there is none. */
function splitLoop(loop: readonly number[], from: number, to: number): Split | null {
  if (to - from < 2) return { triangles: [], cost: 0 };
  let best: Split | null = null;
  for (let tip = from + 1; tip < to; tip++) {
    const costA = costOf(loop, from, tip);
    const costB = costOf(loop, tip, to);
    if (costA === null || costB === null) continue;
    const a = splitLoop(loop, from, tip);
    const b = splitLoop(loop, tip, to);
    if (!a || !b) continue;
    const cost = a.cost + b.cost + costA + costB;
    if (!best || cost < best.cost - 1e-9) {
      best = { triangles: [loop[from]!, loop[tip]!, loop[to]!, ...a.triangles, ...b.triangles], cost };
    }
  }
  return best;
}

/** Squared length of the diagonal, 0 for a side of the loop, null when it would lie on a face. */
function costOf(loop: readonly number[], a: number, b: number): number | null {
  if (b - a === 1) return 0;
  if ((facesOfEdge[loop[a]!]! & facesOfEdge[loop[b]!]!) !== 0) return null;
  const p = middleOfEdge(loop[a]!);
  const q = middleOfEdge(loop[b]!);
  return (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2;
}

function makeCellCases(): CellCases {
  const edges: number[] = [];
  const start = new Uint16Array(257);
  for (let bright = 0; bright < 256; bright++) {
    start[bright] = edges.length;
    for (const loop of traceLoops(bright))
      edges.push(...(splitLoop(loop, 0, loop.length - 1)?.triangles ?? []));
  }
  start[256] = edges.length;
  return { edges: Uint8Array.from(edges), start };
}

export const CELL_CASES: CellCases = makeCellCases();
