import { CUSPS, type ByCusp, type Cusp, type Xyz } from '../root/root-types.ts';
import { dot, type Vec3 } from '../math/vec3.ts';
import { coronaryStart, type HeartAnatomy } from './heart-anatomy.ts';
import { measureLeafletLength } from './leaflet-sheets.ts';
import { makeLeftHeartProbe, type LeftHeartProbe } from './left-heart-distance.ts';
import { placeDeposits } from './paint-scene.ts';
import type { CoronaryShape, DepositTruth, OstiumTruth, PhantomTruth, RingTruth } from './phantom-types.ts';
import { lpsFromRoot, lpsFromScene, sceneFromRoot } from './place-phantom.ts';
import { bulgeAt, contourRadius, junctionHeight, RAD, readAxis, readWall } from './root-wall.ts';

const RAYS = 360;
const CONTOUR_POINTS = 120;

/** Radii of the lumen (root, ventricle and aorta together, coronaries closed) about the root's axis at one height. */
interface RingRadii {
  readonly heightMm: number;
  readonly axis: readonly [number, number];
  readonly radiiMm: Float64Array;
}

/**
 * The root's own wall is read from its table; where ventricle or aorta reach beyond it, the ray goes on in steps of
 * 0.5 mm to the first change of sign, then is halved 40 times.
 */
function traceRing(heart: HeartAnatomy, probe: LeftHeartProbe, heightMm: number): RingRadii {
  const axis = readAxis(heart.wall, heightMm);
  const depthAt = (c: number, s: number, r: number): number => {
    const q: Vec3 = [axis[0] + r * c, axis[1] + r * s, heightMm];
    const p = sceneFromRoot(heart.place, q);
    probe.moveTo(p[0], p[1], p[2], q[0], q[1], q[2]);
    return probe.bloodMm();
  };
  const radiiMm = new Float64Array(RAYS);
  for (let i = 0; i < RAYS; i++) {
    const a = (i * 2 * Math.PI) / RAYS;
    const [c, s] = [Math.cos(a), Math.sin(a)];
    let low = readWall(heart.wall, heart.wall.radiusMm, a, heightMm);
    if (depthAt(c, s, low + 1e-6) < 0) {
      while (low < 80 && depthAt(c, s, low + 0.5) < 0) low += 0.5;
      let high = low + 0.5;
      for (let n = 0; n < 40; n++) {
        const mid = (low + high) / 2;
        if (depthAt(c, s, mid) < 0) low = mid;
        else high = mid;
      }
    }
    radiiMm[i] = low;
  }
  return { heightMm, axis, radiiMm };
}

/** Area by the trapezoid rule in polar form, perimeter of the polygon with its bias (2 pi / n)^2 / 24 put back. */
function measureRing(heart: HeartAnatomy, ring: RingRadii): RingTruth {
  const { radiiMm, axis, heightMm } = ring;
  const x = Float64Array.from(radiiMm, (r, i) => r * Math.cos((i * 2 * Math.PI) / RAYS));
  const y = Float64Array.from(radiiMm, (r, i) => r * Math.sin((i * 2 * Math.PI) / RAYS));
  let area = 0;
  let perimeter = 0;
  for (let i = 0; i < RAYS; i++) {
    const j = (i + 1) % RAYS;
    area += 0.5 * radiiMm[i]! * radiiMm[i]!;
    perimeter += Math.hypot(x[j]! - x[i]!, y[j]! - y[i]!);
  }
  let minDiameterMm = Infinity;
  let maxDiameterMm = 0;
  for (let w = 0; w < 360; w++) {
    const [c, s] = [Math.cos((w * Math.PI) / 360), Math.sin((w * Math.PI) / 360)];
    let low = Infinity;
    let high = -Infinity;
    for (let i = 0; i < RAYS; i++) {
      const t = x[i]! * c + y[i]! * s;
      if (t < low) low = t;
      if (t > high) high = t;
    }
    minDiameterMm = Math.min(minDiameterMm, high - low);
    maxDiameterMm = Math.max(maxDiameterMm, high - low);
  }
  const contourLps: Xyz[] = [];
  for (let i = 0; i < RAYS; i += RAYS / CONTOUR_POINTS) contourLps.push(lpsFromRoot(heart.place, [axis[0] + x[i]!, axis[1] + y[i]!, heightMm]));
  return {
    heightMm, areaMm2: (area * 2 * Math.PI) / RAYS, perimeterMm: perimeter * (1 + (2 * Math.PI / RAYS) ** 2 / 24),
    minDiameterMm, maxDiameterMm, contourLps,
  };
}

function byCusp<T>(of: (c: Cusp) => T): ByCusp<T> {
  return { R: of('R'), L: of('L'), N: of('N') };
}

/** Widest plane within the sinuses, and the chords through its centroid from each cusp's farthest wall point. */
function measureSinuses(heart: HeartAnatomy, probe: LeftHeartProbe): { readonly widestHeightMm: number; readonly widthMm: ByCusp<number> } {
  const areaAt = (h: number): number => {
    let sum = 0;
    for (let i = 0; i < RAYS; i++) sum += readWall(heart.wall, heart.wall.radiusMm, (i * 2 * Math.PI) / RAYS, h) ** 2;
    return sum;
  };
  const top = heart.shape.junction.heightMm;
  let best = 0.2 * top;
  let bestArea = 0;
  for (let h = 0.2 * top; h < 0.8 * top; h += 0.5) {
    const a = areaAt(h);
    if (a > bestArea) { bestArea = a; best = h; }
  }
  let [low, high] = [best - 0.5, best + 0.5];
  for (let n = 0; n < 8; n++) {
    const [a, b] = [low + (high - low) / 3, high - (high - low) / 3];
    if (areaAt(a) < areaAt(b)) low = a;
    else high = b;
  }
  const ring = traceRing(heart, probe, (low + high) / 2);
  const points = Array.from(ring.radiiMm, (r, i) => [r * Math.cos((i * 2 * Math.PI) / RAYS), r * Math.sin((i * 2 * Math.PI) / RAYS)] as const);
  const [cx, cy] = findCentroid(points);
  const widthMm = byCusp((cusp) => {
    let far = 0;
    let from = points[0]!;
    points.forEach((p, i) => {
      const place = heart.wall.findCusp((i * 2 * Math.PI) / RAYS);
      const d = Math.hypot(p[0] - cx, p[1] - cy);
      if (place.cusp === cusp && d > far) { far = d; from = p; }
    });
    return far + distanceToWall(points, cx, cy, (cx - from[0]) / far, (cy - from[1]) / far);
  });
  return { widestHeightMm: ring.heightMm, widthMm };
}

export function findCentroid(points: readonly (readonly [number, number])[]): readonly [number, number] {
  let [a, x, y] = [0, 0, 0];
  points.forEach((p, i) => {
    const q = points[(i + 1) % points.length]!;
    const w = p[0] * q[1] - q[0] * p[1];
    a += w; x += w * (p[0] + q[0]); y += w * (p[1] + q[1]);
  });
  return [x / (3 * a), y / (3 * a)];
}

/** Along a ray from a point inside a polygon to its edge. */
function distanceToWall(points: readonly (readonly [number, number])[], cx: number, cy: number, dx: number, dy: number): number {
  let best = 0;
  points.forEach((p, i) => {
    const q = points[(i + 1) % points.length]!;
    const [ex, ey] = [q[0] - p[0], q[1] - p[1]];
    const det = dx * -ey + dy * ex;
    if (Math.abs(det) < 1e-12) return;
    const [px, py] = [p[0] - cx, p[1] - cy];
    const t = (px * -ey + py * ex) / det;
    const s = (dx * py - dy * px) / det;
    if (t > 0 && s >= 0 && s <= 1) best = Math.max(best, t);
  });
  return best;
}

/** Where the artery's straight first part crosses the wall: centreline, and 360 lines on its surface. */
function measureOstium(heart: HeartAnatomy, probe: LeftHeartProbe, c: CoronaryShape): OstiumTruth {
  const { point, direction: d } = coronaryStart(heart.wall, c);
  const helper: Vec3 = Math.abs(d[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0];
  const e1: Vec3 = [d[1] * helper[2] - d[2] * helper[1], d[2] * helper[0] - d[0] * helper[2], d[0] * helper[1] - d[1] * helper[0]];
  const n1 = Math.hypot(...e1);
  const f: Vec3 = [e1[0] / n1, e1[1] / n1, e1[2] / n1];
  const g: Vec3 = [d[1] * f[2] - d[2] * f[1], d[2] * f[0] - d[0] * f[2], d[0] * f[1] - d[1] * f[0]];
  const rootAt = (q: Vec3): number => {
    const p = sceneFromRoot(heart.place, q);
    probe.moveTo(p[0], p[1], p[2], q[0], q[1], q[2]);
    return probe.rootMm();
  };
  let lowest = Infinity;
  for (let i = 0; i < 360; i++) {
    const [cs, sn] = [c.radiusMm * Math.cos(i * RAD), c.radiusMm * Math.sin(i * RAD)];
    const at = (t: number): Vec3 => [0, 1, 2].map((k) => point[k]! + cs * f[k]! + sn * g[k]! + t * d[k]!) as unknown as Vec3;
    let low = -6;
    while (low < 6 && rootAt(at(low + 0.25)) < 0) low += 0.25;
    let high = low + 0.25;
    for (let n = 0; n < 40; n++) {
      const mid = (low + high) / 2;
      if (rootAt(at(mid)) < 0) low = mid;
      else high = mid;
    }
    lowest = Math.min(lowest, at(low)[2]);
  }
  return {
    centreLps: lpsFromRoot(heart.place, point), centreHeightMm: c.heightMm, lowerEdgeHeightMm: lowest,
    azimuthDeg: c.azimuthDeg, diameterMm: 2 * c.radiusMm,
  };
}

/** Share of an ellipsoid's points by place, over a lattice of 16^3 cells of its box; volumes are exact, shares to 0.5 %. */
function measureCalcium(heart: HeartAnatomy, probe: LeftHeartProbe): PhantomTruth['calcium'] {
  const cells = 16;
  const above = { R: 0, L: 0, N: 0 };
  const below = { R: 0, L: 0, N: 0 };
  const placed = placeDeposits(heart);
  let total = 0;
  const deposits: DepositTruth[] = heart.shape.calcium.map((c, index) => {
    const p = placed[index]!;
    const f = p.frame;
    const [a, b, e] = c.semiAxesMm;
    const volumeMm3 = (4 / 3) * Math.PI * a * b * e;
    total += volumeMm3;
    const count = { inside: 0, above: { R: 0, L: 0, N: 0 }, below: { R: 0, L: 0, N: 0 } };
    let deepest = 0;
    for (let i = 0; i < cells ** 3; i++) {
      const x = ((i % cells) + 0.5) / cells * 2 - 1;
      const y = ((Math.floor(i / cells) % cells) + 0.5) / cells * 2 - 1;
      const z = (Math.floor(i / cells / cells) + 0.5) / cells * 2 - 1;
      const rr = x * x + y * y + z * z;
      if (rr > 1) continue;
      count.inside++;
      const place = (s: number): Vec3 => [0, 1, 2].map((k) => [p.x, p.y, p.z][k]! + s * (x * a * f[k]! + y * b * f[3 + k]! + z * e * f[6 + k]!)) as unknown as Vec3;
      const q = place(1);
      const [ax, ay] = readAxis(heart.wall, q[2]);
      const cusp = heart.wall.findCusp(Math.atan2(q[1] - ay, q[0] - ax)).cusp;
      if (q[2] >= 0) count.above[cusp]++;
      else if (q[2] >= -10) count.below[cusp]++;
      if (rr > 0.7) {
        const edge = place(1 / Math.sqrt(rr));
        const sc = sceneFromRoot(heart.place, edge);
        probe.moveTo(sc[0], sc[1], sc[2], edge[0], edge[1], edge[2]);
        deepest = Math.max(deepest, -probe.rootMm());
      }
    }
    for (const cusp of CUSPS) {
      above[cusp] += (volumeMm3 * count.above[cusp]) / count.inside;
      below[cusp] += (volumeMm3 * count.below[cusp]) / count.inside;
    }
    return {
      place: c.place, centreLps: lpsFromRoot(heart.place, [p.x, p.y, p.z]), volumeMm3, cusp: heart.wall.findCusp(c.azimuthDeg * RAD).cusp,
      heightMm: c.heightMm, azimuthDeg: c.azimuthDeg, protrusionMm: deepest, attenuationHu: c.attenuationHu,
    };
  });
  return { deposits, volumeMm3: total, byCuspMm3: above, outflowMm3: below.R + below.L + below.N, outflowByCuspMm3: below };
}

/** All exact answers for one phantom. */
export function measureTruth(heart: HeartAnatomy): PhantomTruth {
  const { shape, place, wall } = heart;
  const probe = makeLeftHeartProbe(heart);
  const normalLps = lpsFromScene(place, place.n, true);
  const ringAt = (h: number): RingTruth => measureRing(heart, traceRing(heart, probe, h));
  const levels: RingTruth[] = [];
  for (let h = -12; h <= Math.floor(shape.junction.heightMm) + 6; h++) levels.push(ringAt(h));
  const level = (h: number): RingTruth => levels.find((l) => l.heightMm === h) ?? ringAt(h);
  const nadirsLps = byCusp((c): Xyz => {
    const a = shape.nadirAzimuthDeg[c] * RAD;
    const r = readWall(wall, wall.radiusMm, a, 0);
    return lpsFromRoot(place, [r * Math.cos(a), r * Math.sin(a), 0]);
  });
  let junction2 = 0;
  for (let i = 0; i < 720; i++) junction2 += contourRadius(shape.junction.contour, (i * Math.PI) / 360) ** 2 / 720;
  const sinuses = measureSinuses(heart, probe);
  return {
    format: 'trinadir.phantom-truth/1', valve: shape.valve, isMirrored: shape.pose.isMirrored,
    basalPlane: { pointLps: [...place.positionLps] as unknown as Xyz, normalLps, nadirsLps },
    angulationDeg: Math.acos(Math.min(1, Math.abs(normalLps[2]))) / RAD,
    basalRing: level(0), levels, outflowTract: level(-5),
    sinuses: {
      ...sinuses,
      heightMm: byCusp((c) => junctionHeight(shape, shape.nadirAzimuthDeg[c] * RAD)),
      depthMm: byCusp((c) => shape.sinusDepthMm[c]),
    },
    sinotubularJunction: {
      heightMm: shape.junction.heightMm, diameterMm: 2 * Math.sqrt(junction2),
      ringDiameterMm: 2 * Math.sqrt(ringAt(shape.junction.heightMm).areaMm2 / Math.PI),
    },
    ascendingAorta: { diameterMm: 2 * shape.ascending.radiusMm },
    coronaries: {
      left: shape.coronaries.left ? measureOstium(heart, probe, shape.coronaries.left) : null,
      right: shape.coronaries.right ? measureOstium(heart, probe, shape.coronaries.right) : null,
    },
    leaflets: byCusp((c) => ({ lengthMm: measureLeafletLength(shape, wall, c) })),
    septum: measureSeptum(heart, probe),
    calcium: measureCalcium(heart, probe),
  };
}

function measureSeptum(heart: HeartAnatomy, probe: LeftHeartProbe): PhantomTruth['septum'] {
  const b = heart.shape.septalBulge;
  const ring = traceRing(heart, probe, 0);
  let insideRingMm = 0;
  for (let i = 0; i < RAYS; i++) {
    const off = ((((i - b.azimuthDeg) % 360) + 540) % 360) - 180;
    if (Math.abs(off) > 60) continue;
    for (let h = -12; h < 0; h += 0.25) {
      insideRingMm = Math.max(insideRingMm, ring.radiiMm[i]! - readWall(heart.wall, heart.wall.radiusMm, i * RAD, h));
    }
  }
  return { bulgeMm: bulgeAt(heart.shape, b.azimuthDeg * RAD, b.heightMm), bulgeHeightMm: b.heightMm, azimuthDeg: b.azimuthDeg, insideRingMm };
}

/** Sentences about what does not hold; empty when sound. */
export function checkTruth(t: PhantomTruth): readonly string[] {
  const breaches: string[] = [];
  for (const ring of t.levels) {
    const at = `ring at ${ring.heightMm} mm`;
    if (!(ring.areaMm2 > 50)) breaches.push(`${at}: area ${ring.areaMm2} mm2`);
    if (!(ring.perimeterMm / Math.PI >= 2 * Math.sqrt(ring.areaMm2 / Math.PI) * (1 - 1e-6))) breaches.push(`${at}: perimeter below a circle's`);
    if (!(ring.minDiameterMm <= ring.maxDiameterMm)) breaches.push(`${at}: diameters not ordered`);
  }
  for (const c of CUSPS) {
    const d = t.basalPlane.nadirsLps[c].map((v, k) => v - t.basalPlane.pointLps[k]!) as unknown as Vec3;
    if (t.valve === 'three-leaflet' && !(Math.abs(dot(d, t.basalPlane.normalLps)) < 1e-9)) breaches.push(`nadir ${c} is off the basal plane`);
    if (!(t.sinuses.heightMm[c] > 5)) breaches.push(`sinus ${c} is ${t.sinuses.heightMm[c]} mm high`);
  }
  return breaches;
}
