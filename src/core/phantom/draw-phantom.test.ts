import { describe, expect, test } from 'vitest';
import { applyToPoint, invertAffine } from '../units/affine.ts';
import { lpsPoint, makePoint } from '../units/frames.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { add, along, completeBasis, type Vec3 } from '../math/vec3.ts';
import { drawPhantom, drawVolume, gridOfScan } from './draw-phantom.ts';
import { arrangeHeart, type HeartAnatomy } from './heart-anatomy.ts';
import { makeScenePainter } from './paint-scene.ts';
import { makeSeededShape } from './draw-seeded-shape.ts';
import type { PhantomScan, PhantomShape } from './phantom-types.ts';

const SEED = 7;

/** Only the left heart's blood is bright (1000 HU); all else, leaflets included where they lie in blood, is plain. */
function makeBare(seed: number): { shape: PhantomShape; scan: PhantomScan } {
  const { shape, scan } = makeSeededShape(seed);
  const dark = { wall: 0, leaflet: 1000, myocardium: 0, fat: 0, lung: 0, muscle: 0, liver: 0, cortical: 0, trabecular: 0 };
  return {
    shape: { ...shape, tissueHu: dark, calcium: [], coronaries: { left: null, right: null } },
    scan: {
      ...scan, dims: [130, 130, 130], spacingMm: [0.5, 0.5, 0.5], sliceThicknessMm: 0.5, centreLps: shape.pose.positionLps,
      contrastHu: 1000, contrastGradientHuPerCm: 0, leftAtriumHu: 0, rightHeartHu: 0, noise: { sdHu: 0, correlationMm: 0.5 }, blurMm: { inPlane: 0.3, z: 0.3 },
    },
  };
}

function makeSampler(v: CtVolume): (p: Vec3) => number {
  const inverse = invertAffine(v.lpsFromVoxel)!;
  const [nx, ny, nz] = v.dims;
  return (p) => {
    const q = applyToPoint(inverse, lpsPoint(p[0], p[1], p[2]));
    const [i, j, k] = q.map(Math.floor) as [number, number, number];
    if (i < 0 || j < 0 || k < 0 || i + 1 >= nx || j + 1 >= ny || k + 1 >= nz) return NaN;
    let sum = 0;
    for (let c = 0; c < 8; c++) {
      const [a, b, d] = [c & 1, (c >> 1) & 1, c >> 2];
      const w = (a ? q[0] - i : i + 1 - q[0]) * (b ? q[1] - j : j + 1 - q[1]) * (d ? q[2] - k : k + 1 - q[2]);
      sum += w * v.samplesHu[((k + d) * ny + j + b) * nx + i + a]!;
    }
    return sum;
  };
}

/** Every voxel by itself, all layers from the lowest up: the clear version of drawVolume without blur and noise. */
function paintSlowly(heart: HeartAnatomy, scan: PhantomScan): Int16Array {
  const painter = makeScenePainter(heart, scan);
  const grid = gridOfScan(scan);
  const [nx, ny, nz] = scan.dims;
  const ramp = Math.sqrt((scan.spacingMm[0] ** 2 + scan.spacingMm[1] ** 2 + scan.spacingMm[2] ** 2) / 3);
  const m = heart.place.lpsFromScene;
  const out = new Int16Array(nx * ny * nz);
  for (let i = 0; i < out.length; i++) {
    const p = applyToPoint(grid, makePoint<'voxel'>(i % nx, Math.floor(i / nx) % ny, Math.floor(i / nx / ny)));
    const d = [0, 1, 2].map((k) => p[k]! - heart.place.positionLps[k]!);
    const scene = [0, 1, 2].map((k) => m[k]! * d[0]! + m[3 + k]! * d[1]! + m[6 + k]! * d[2]!);
    painter.moveTo(scene[0]!, scene[1]!, scene[2]!);
    let hu = -1000;
    for (let layer = 0; layer < painter.layers; layer++) {
      const cover = Math.min(1, Math.max(0, 0.5 - painter.distanceMm(layer) / ramp));
      hu += (painter.paintHu(layer) - hu) * cover;
    }
    out[i] = Math.round(hu);
  }
  return out;
}

const bare = makeBare(SEED);
const drawn = drawPhantom(bare.shape, bare.scan);

describe(`drawPhantom (seed ${SEED})`, () => {
  test('shows at each height the area that its truth states', () => {
    const { volume, truth } = drawn;
    const sample = makeSampler(volume);
    const n = truth.basalPlane.normalLps;
    const { u, v } = completeBasis(n);
    for (const h of [-8, -3, 0, 5, 10]) {
      const origin = along(truth.basalPlane.pointLps, n, h);
      let sum = 0;
      const step = 0.25;
      for (let a = -21; a <= 21; a += step) {
        for (let b = -21; b <= 21; b += step) sum += sample(add(along(origin, u, a), [v[0] * b, v[1] * b, v[2] * b]));
      }
      const area = (sum / 1000) * step * step;
      const wanted = truth.levels.find((l) => l.heightMm === h)!.areaMm2;
      // the sinuses begin at h = 0 with a slope A' of some 20 mm2/mm: the blur leaks 0.4 sigma A' ~ 2.5 mm2 down there
      const limit = (h === 0 ? 0.01 : 0.004) * wanted;
      expect(Math.abs(area - wanted), `height ${h}: ${area} against ${wanted} mm2`).toBeLessThan(limit);
    }
  });

  test('puts the ring 3 mm below the nadirs on the border of the blood', () => {
    const { volume, truth } = drawn;
    const sample = makeSampler(volume);
    for (const p of truth.levels.find((l) => l.heightMm === -3)!.contourLps) {
      const hu = sample(p);
      // half height; linear reading of a sharp edge (sigma 0.3 mm) on 0.5 mm voxels is off by up to 0.05 mm x 1000 HU / 0.75 mm
      expect(Math.abs(hu - 500), `${hu} HU on the ring`).toBeLessThan(80);
    }
  });

  test('contains exactly the stated volume of a deposit', () => {
    const { shape, scan } = makeBare(SEED);
    const lone: PhantomShape = {
      ...shape,
      tissueHu: { ...shape.tissueHu, leaflet: 0 },
      calcium: [{ place: 'leaflet', azimuthDeg: 40, heightMm: 7, radiusMm: 6, semiAxesMm: [1.2, 2.5, 2], leanDeg: 30, attenuationHu: 2000 }],
    };
    const { volume, truth } = drawPhantom(lone, { ...scan, contrastHu: 0 });
    const inverse = invertAffine(volume.lpsFromVoxel)!;
    const c = truth.calcium.deposits[0]!.centreLps;
    const [ci, cj, ck] = applyToPoint(inverse, lpsPoint(c[0], c[1], c[2])).map(Math.round) as [number, number, number];
    let total = 0;
    for (let k = ck - 9; k <= ck + 9; k++) {
      for (let j = cj - 9; j <= cj + 9; j++) {
        for (let i = ci - 9; i <= ci + 9; i++) total += volume.samplesHu[(k * 130 + j) * 130 + i]! * 0.125;
      }
    }
    const wanted = (4 / 3) * Math.PI * 1.2 * 2.5 * 2;
    expect(truth.calcium.volumeMm3).toBeCloseTo(wanted, 9);
    // border ramp on a curved surface: (ramp / axis)^2 / 12 x 3 axes ~ 3 %
    expect(Math.abs(total / 2000 - wanted)).toBeLessThan(0.04 * wanted);
  });

  test('draws by blocks what it draws voxel by voxel', () => {
    for (const seed of [1, 2, 11]) {
      const made = makeSeededShape(seed);
      const raw: PhantomScan = { ...made.scan, dims: [64, 64, 64], spacingMm: [1, 1, 1], sliceThicknessMm: 0.7, centreLps: made.shape.pose.positionLps, noise: { sdHu: 0, correlationMm: 1 }, blurMm: { inPlane: 0, z: 0 } };
      const heart = arrangeHeart(made.shape);
      const { samplesHu } = drawVolume(heart, { ...raw, spacingMm: [0.8, 0.8, 0.8] });
      const slow = paintSlowly(heart, { ...raw, spacingMm: [0.8, 0.8, 0.8] });
      const wrong = samplesHu.reduce((n, v, i) => n + (Math.abs(v - slow[i]!) > 1 ? 1 : 0), 0);
      expect(wrong, `seed ${seed}`).toBe(0);
    }
  });

  test('gives the same bytes twice and noise of the stated size', () => {
    const { shape, scan } = makeSeededShape(SEED);
    const small: PhantomScan = { ...scan, dims: [48, 40, 40], centreLps: shape.pose.positionLps };
    const once = drawPhantom(shape, small).volume;
    const again = drawPhantom(shape, small).volume;
    expect(again.samplesHu).toEqual(once.samplesHu);
    const quiet = drawPhantom(shape, { ...small, noise: { ...small.noise, sdHu: 0 } }).volume;
    let squares = 0;
    for (let i = 0; i < once.samplesHu.length; i++) squares += (once.samplesHu[i]! - quiet.samplesHu[i]!) ** 2;
    const sd = Math.sqrt(squares / once.samplesHu.length);
    // 77,000 voxels in clumps of some 30: 2,500 independent ones, SD known to 1.4 %; margin 5
    expect(Math.abs(sd / small.noise.sdHu - 1)).toBeLessThan(0.07);
  });

  test('shows the same patient through an upright, a turned and a tilted grid', () => {
    const { shape, scan } = makeBare(SEED);
    const base: PhantomScan = { ...scan, dims: [70, 70, 70], blurMm: { inPlane: 0.6, z: 0.6 } };
    const plain = makeSampler(drawPhantom(shape, base).volume);
    for (const other of [
      { ...base, inPlaneTurnDeg: 25 }, { ...base, gantryTiltDeg: 15 }, { ...base, sliceOrder: base.sliceOrder === 'feet-to-head' ? 'head-to-feet' as const : 'feet-to-head' as const },
    ]) {
      const sample = makeSampler(drawPhantom(shape, other).volume);
      let worst = 0;
      for (let a = 0; a < 300; a++) {
        const p = add(shape.pose.positionLps, [10 * Math.sin(a), 10 * Math.cos(1.7 * a), 10 * Math.sin(2.3 * a + 1)]);
        worst = Math.max(worst, Math.abs(sample(p) - plain(p)));
      }
      // linear reading of a 1000 HU edge of sigma 0.6 mm on 0.5 mm grids, two grids
      expect(worst).toBeLessThan(90);
    }
  });

  test('leans the slices of a tilted gantry without turning the table', () => {
    const { scan } = makeSeededShape(SEED);
    const r = gridOfScan({ ...scan, gantryTiltDeg: 20 }).rows;
    expect([r[2], r[6]]).toEqual([0, 0]);
    expect(r[9]! / scan.spacingMm[1]).toBeCloseTo(Math.sin((20 * Math.PI) / 180), 12);
  });

  test('mirrors the patient: same sizes, left and right exchanged, cusps keep their names', () => {
    const { shape, scan } = makeSeededShape(SEED);
    const tiny: PhantomScan = { ...scan, dims: [8, 8, 8] };
    const plain = drawPhantom({ ...shape, pose: { ...shape.pose, turn: { axisLps: [0, 0, 1], angleDeg: 0 } } }, tiny).truth;
    const mirror = drawPhantom({ ...shape, pose: { ...shape.pose, turn: { axisLps: [0, 0, 1], angleDeg: 0 }, isMirrored: true } }, tiny).truth;
    expect(mirror.basalRing.areaMm2).toBeCloseTo(plain.basalRing.areaMm2, 9);
    const x0 = shape.pose.positionLps[0];
    for (const c of ['R', 'L', 'N'] as const) {
      expect(mirror.basalPlane.nadirsLps[c][0] - x0).toBeCloseTo(-(plain.basalPlane.nadirsLps[c][0] - x0), 9);
      expect(mirror.basalPlane.nadirsLps[c][1]).toBeCloseTo(plain.basalPlane.nadirsLps[c][1], 9);
    }
  });
});
