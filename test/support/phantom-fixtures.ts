import { drawPhantom } from '../../src/core/phantom/draw-phantom.ts';
import { makeSeededShape } from '../../src/core/phantom/draw-seeded-shape.ts';
import { cutToRoot } from '../../src/core/phantom/phantom-variants.ts';
import type { DrawnPhantom } from '../../src/core/phantom/phantom-types.ts';

/** A seeded root in a cube of `edgeMm` about it: quick to draw, whole root inside from about 90 mm on. */
export function drawRootCube(seed: number, edgeMm: number): DrawnPhantom {
  const { shape, scan } = makeSeededShape(seed);
  return drawPhantom(shape, cutToRoot(shape, scan, edgeMm));
}
