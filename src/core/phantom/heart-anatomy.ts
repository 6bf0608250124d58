import { add, along, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { makeTube, smoothPath, splitTube, type Ellipsoid, type Tube } from './distance-shapes.ts';
import type { CoronaryShape, PhantomShape } from './phantom-types.ts';
import { placePhantom, sceneFromRoot, type PhantomPlacement } from './place-phantom.ts';
import { tabulateLeaflets, type LeafletSheets } from './leaflet-sheets.ts';
import { RAD, readAxis, readWall, tabulateRootWall, type RootWall } from './root-wall.ts';

/** Where everything stands in the scene. Sizes beyond the root are plain anatomy, chosen to look right [M]. */
export interface HeartAnatomy {
  readonly shape: PhantomShape;
  readonly place: PhantomPlacement;
  readonly wall: RootWall;
  readonly sheets: LeafletSheets;
  /** Left ventricle: centre, unit long axis, half length, half width. */
  readonly ventricle: { readonly centre: Vec3; readonly axis: Vec3; readonly half: number; readonly width: number };
  readonly atrium: Ellipsoid;
  readonly rightAtrium: Ellipsoid;
  readonly rightVentricle: Ellipsoid;
  readonly aorta: readonly Tube[];
  readonly coronaries: readonly Tube[];
  readonly pulmonary: readonly Tube[];
  readonly cava: Tube;
  readonly lead: Tube | null;
}

/** A coronary's first straight stretch, root frame: the crossing of centreline and wall, and the unit direction. */
export function coronaryStart(wall: RootWall, c: CoronaryShape): { readonly point: Vec3; readonly direction: Vec3 } {
  const a = c.azimuthDeg * RAD;
  const [ax, ay] = readAxis(wall, c.heightMm);
  const r = readWall(wall, wall.radiusMm, a, c.heightMm);
  const flat = (c.azimuthDeg + c.sidewaysDeg) * RAD;
  const rise = c.riseDeg * RAD;
  return {
    point: [ax + r * Math.cos(a), ay + r * Math.sin(a), c.heightMm],
    direction: [Math.cos(flat) * Math.cos(rise), Math.sin(flat) * Math.cos(rise), Math.sin(rise)],
  };
}

/** Straight for 10 mm (radius kept), then bending toward `toward` in steps of 8 mm, tapering. */
function drawCoronary(place: PhantomPlacement, wall: RootWall, c: CoronaryShape, toward: Vec3, steps: number): Tube {
  const start = coronaryStart(wall, c);
  const p0 = sceneFromRoot(place, start.point);
  let d: Vec3 = sceneFromRoot(place, start.direction);
  const points: [number, number, number][] = [along(p0, d, -3), along(p0, d, 10)];
  const radii = [c.radiusMm, c.radiusMm];
  for (let i = 0; i < steps; i++) {
    d = unit(add(scale(d, 0.7), scale(toward, 0.3)));
    points.push(along(points[points.length - 1]!, d, 8));
    radii.push(c.radiusMm * Math.max(0.55, 1 - 0.07 * (i + 1)));
  }
  return makeTube(points, radii);
}

export function arrangeHeart(shape: PhantomShape): HeartAnatomy {
  const place = placePhantom(shape.pose);
  const wall = tabulateRootWall(shape);
  const n = place.n;

  // Ventricle: long axis to the apex (left, forward, down); its top stays 15.5 mm below the basal plane.
  const axis = unit([0.6, -0.5, -0.62]);
  const half = shape.ventricle.lengthMm / 2;
  const width = shape.ventricle.widthMm / 2;
  const t = dot(axis, n);
  const sideways = sub(n, scale(axis, t));
  const reach = Math.sqrt(half * half * t * t + width * width * (1 - t * t));
  const topFromCentre = scale(add(scale(axis, half * half * t), scale(sideways, width * width)), 1 / reach);
  const centre = sub(scale(n, -15.5), topFromCentre);

  // Atrium behind the commissure between L and N.
  const behind = sceneFromRoot(place, [-1, 0.05, 0]);
  const ringMm = shape.ring.meanRadiusMm;
  const atrium: Ellipsoid = { centre: add(scale(behind, ringMm + 20), [0, 0, 2]), axes: [31, 22, 27] };

  // Ascending aorta from the root's axis, bending upward, arch, down beside the spine.
  const topMm = wall.topMm - 7;
  const [cx, cy] = readAxis(wall, topMm);
  const start = sceneFromRoot(place, [cx, cy, topMm]);
  const r = shape.ascending.radiusMm;
  const ahead = along(start, n, 12);
  const rising = add(along(ahead, unit(add(scale(n, 0.6), [0.1, 0.15, 0.75])), 16), [0, 0, 0]);
  const climb = smoothPath([start, ahead, rising, add(rising, [3, 5, 20]), add(rising, [9, 17, 38]), add(rising, [24, 36, 47])], 4);
  const crest = climb[climb.length - 1]!;
  const fall = smoothPath([crest, [Math.max(crest[0] + 14, 16), 56, crest[2] - 3], [25, 64, crest[2] - 28], [24, 66, 0], [20, 66, -90], [14, 68, -220]], 4);
  const climbR = climb.map((_, i) => (i < 14 ? r : r - ((r - 12.5) * (i - 14)) / (climb.length - 15)));
  const fallR = fall.map((_, i) => Math.max(10.5, 12.5 - i * 0.1));

  const coronaries: Tube[] = [];
  const { left, right } = shape.coronaries;
  if (left) {
    coronaries.push(drawCoronary(place, wall, left, unit([0.55, -0.6, -0.45]), 8));
    coronaries.push(drawCoronary(place, wall, left, unit([0.6, 0.7, -0.3]), 6));
  }
  if (right) coronaries.push(drawCoronary(place, wall, right, unit([-0.75, -0.1, -0.6]), 8));

  return {
    shape, place, wall, sheets: tabulateLeaflets(shape, wall),
    ventricle: { centre, axis, half, width }, atrium,
    rightAtrium: { centre: [-40, 2, -14], axes: [21, 24, 28] },
    rightVentricle: { centre: [4, -46, -40], axes: [40, 24, 36] },
    aorta: [...splitTube(climb, climbR, 3), ...splitTube(fall, fallR, 3)],
    coronaries,
    pulmonary: splitTube(smoothPath([[8, -44, -30], [14, -40, -8], [20, -32, 14], [23, -12, 34], [22, 12, 44], [-4, 22, 46], [-46, 24, 48]], 2), [14, 13.5, 13, 13, 13, 12.5, 12, 11.5, 11, 10, 9, 8.5, 8], 3),
    cava: makeTube([[-40, 6, 0], [-42, 4, 40], [-40, 2, 130]], [10, 9, 9]),
    lead: shape.hasLead ? makeTube([[-40, 2, 130], [-42, 4, 40], [-42, 2, -10], [-25, -22, -35], [15, -52, -62]], [1, 1, 1, 1, 1.3]) : null,
  };
}
