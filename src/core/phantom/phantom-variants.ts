import type { PhantomScan, PhantomShape } from './phantom-types.ts';

/**
 * Ready changes of a shape or scan: other anatomy, other phases, worse scans. Each gives a new record.
 * docs/methods/phantom.md lists what each one is meant to be refused or doubted for.
 */

/** Right and left cusp grown together: low commissure between them, one edge across, calcium on the raphe. */
export function fuseRightAndLeft(shape: PhantomShape): PhantomShape {
  return {
    ...shape,
    valve: 'fused-R-L',
    commissureHeightShare: { ...shape.commissureHeightShare, RL: 0.45 },
    calcium: [...shape.calcium.filter((c) => Math.abs(c.azimuthDeg - shape.commissureAzimuthDeg.RL) > 25), {
      place: 'leaflet', azimuthDeg: shape.commissureAzimuthDeg.RL, heightMm: 0.55 * shape.junction.heightMm, radiusMm: 0.62 * shape.ring.meanRadiusMm,
      semiAxesMm: [2.6, 1.1, 1.4], leanDeg: 30, attenuationHu: 950,
    }],
  };
}

/** Two cusps and two sinuses (R and N, opposite each other). The place of the L nadir means nothing then. */
export function makeTwoSinuses(shape: PhantomShape): PhantomShape {
  const depth = Math.max(shape.sinusDepthMm.R, shape.sinusDepthMm.N);
  return {
    ...shape,
    valve: 'two-sinus',
    nadirAzimuthDeg: { R: 0, L: 90, N: 180 },
    commissureAzimuthDeg: { RL: 90, LN: 135, NR: 270 },
    sinusDepthMm: { R: depth, L: depth, N: depth },
    calcium: [],
    coronaries: {
      right: shape.coronaries.right && { ...shape.coronaries.right, azimuthDeg: -12 },
      left: shape.coronaries.left && { ...shape.coronaries.left, azimuthDeg: 60 },
    },
  };
}

/**
 * The same root at a phase of the heart beat (percent of RR). Systole (about 10 to 40 %) is the shape as given; toward
 * diastole the ring loses 6 % of its area and gains ellipticity, the leaflets meet, the ventricle fills [M].
 */
export function moveToPhase(shape: PhantomShape, scan: PhantomScan, phasePercent: number): { readonly shape: PhantomShape; readonly scan: PhantomScan } {
  const p = ((phasePercent % 100) + 100) % 100;
  const isSystole = p >= 5 && p < 45;
  const rest = isSystole ? 0 : 1;
  const ring = { ...shape.ring, meanRadiusMm: shape.ring.meanRadiusMm * (1 - 0.03 * rest), ellipticity: shape.ring.ellipticity * (1 + 0.05 * rest) };
  const closed = { ...shape.leaflets, state: 'closed' as const, edgeRadiusMm: { R: 0.6, L: 0.6, N: 0.6 }, edgeHeightShare: { R: 0.5, L: 0.5, N: 0.5 } };
  return {
    shape: {
      ...shape, ring, leaflets: isSystole ? shape.leaflets : closed,
      ventricle: { ...shape.ventricle, widthMm: shape.ventricle.widthMm * (1 + 0.12 * rest), wallMm: shape.ventricle.wallMm * (1 - 0.15 * rest) },
    },
    scan: { ...scan, phasePercent: p },
  };
}

/** Leaflets wide open, as in a healthy valve. */
export function openLeaflets(shape: PhantomShape): PhantomShape {
  const r = 0.82 * shape.ring.meanRadiusMm;
  return { ...shape, calcium: [], leaflets: { ...shape.leaflets, state: 'open', thicknessMm: 0.6, edgeRadiusMm: { R: r, L: r, N: r } } };
}

/** No contrast given. */
export function removeContrast(scan: PhantomScan): PhantomScan {
  return { ...scan, contrastHu: 42, contrastGradientHuPerCm: 0, leftAtriumHu: 42, rightHeartHu: 42 };
}

/** Too late: the aorta has paled, the veins are as bright. */
export function delayContrast(scan: PhantomScan): PhantomScan {
  return { ...scan, contrastHu: 155, contrastGradientHuPerCm: 0, leftAtriumHu: 150, rightHeartHu: 150 };
}

/** Gated series for calcium scoring: no contrast, 3 mm slices, 20 HU of noise, pixels of 0.45 mm. */
export function makeCalciumScoringScan(scan: PhantomScan): PhantomScan {
  const plain = removeContrast(scan);
  const [nx, ny, nz] = scan.dims;
  const [sx, sy, sz] = scan.spacingMm;
  const pixel = 0.45;
  return {
    ...plain, dims: [Math.round((nx * sx) / pixel), Math.round((ny * sy) / pixel), Math.round((nz * sz) / 3)],
    spacingMm: [pixel, pixel, 3], sliceThicknessMm: 3, noise: { sdHu: 20, correlationMm: 0.6 }, phasePercent: 75,
  };
}

/** Slices this thick, touching. */
export function thickenSlices(scan: PhantomScan, thicknessMm: number): PhantomScan {
  const cover = scan.dims[2] * scan.spacingMm[2];
  return {
    ...scan, dims: [scan.dims[0], scan.dims[1], Math.max(2, Math.round(cover / thicknessMm))],
    spacingMm: [scan.spacingMm[0], scan.spacingMm[1], thicknessMm], sliceThicknessMm: thicknessMm,
  };
}

/** Field ends `aboveMm` (LPS z) above the centre of the basal ring: below some 15 mm the junction is cut off. */
export function truncateAbove(shape: PhantomShape, scan: PhantomScan, aboveMm: number): PhantomScan {
  const [cx, cy] = scan.centreLps;
  const cover = (scan.dims[2] - 1) * scan.spacingMm[2];
  return { ...scan, centreLps: [cx, cy, shape.pose.positionLps[2] + aboveMm - cover / 2] };
}

/** A cube about the root (middle 8 mm above the ring), for quick tests. */
export function cutToRoot(shape: PhantomShape, scan: PhantomScan, edgeMm: number): PhantomScan {
  const s = scan.spacingMm;
  const p = shape.pose.positionLps;
  return { ...scan, dims: [Math.round(edgeMm / s[0]), Math.round(edgeMm / s[1]), Math.round(edgeMm / s[2])], centreLps: [p[0], p[1], p[2] + 6] };
}

/** A whole cardiac field of 512 x 512 x 400 (205 x 205 x 200 mm): heart, arch, lungs, spine and sternum. */
export function widenToHeart(shape: PhantomShape, scan: PhantomScan): PhantomScan {
  const p = shape.pose.positionLps;
  return { ...scan, dims: [512, 512, 400], spacingMm: [0.4, 0.4, 0.5], sliceThicknessMm: 0.5, centreLps: [p[0] + 10, p[1] + 8, p[2] + 15] };
}
