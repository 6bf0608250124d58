import { computeRingRadius } from './frame-shape.ts';
import type { FrameModel, ReleaseTables, WallGrid } from './release-types.ts';
import { ZONE } from './wall-grid.ts';

/** Unsheathed shares of the schedule; 0.25 to 1 in steps of 0.05. */
export const UNSHEATHED: readonly number[] = Array.from({ length: 16 }, (_, i) => (5 + i) / 20);

export interface BiasedFrame {
  readonly frame: FrameModel;
  /** Times the frame's stiffness. */
  readonly frameFactor: number;
  readonly biasMm: number;
  readonly biasAzimuthRad: number;
}

/** Tables with room for a frame; reused from sample to sample. */
export function makeReleaseTables(ratios: readonly number[] = UNSHEATHED, stepMm: number = ZONE.stepMm): ReleaseTables {
  const positions = Math.round((ZONE.highMm - ZONE.lowMm) / stepMm) + 1;
  const n = (ratios.length + 1) * positions;
  return {
    lowMm: ZONE.lowMm,
    stepMm,
    positions,
    ratios: Float64Array.from(ratios),
    upN: new Float64Array(n),
    downN: new Float64Array(n),
    gripN: new Float64Array(n),
  };
}

/**
 * Drive and grip (2.6-2.8) for every unsheathed share and position; the last column is the released frame, which no
 * wire pushes aside.
 *
 * Shape     index column * positions + position
 * Units     N; up and down parts both >= 0
 * Equation  patch drive t = A (p dR/ds - dPhi/dk (k_f/(k_f+k_w))^2 dk_w/ds), A = w r_f dtheta (material)
 * Accuracy  4e-16 relative against the term-by-term sum in the tests
 */
export function tabulateRelease(wall: WallGrid, biased: BiasedFrame, into: ReleaseTables): ReleaseTables {
  const { frame, frameFactor, biasMm } = biased;
  const { positions, ratios, upN, downN, gripN } = into;
  upN.fill(0);
  downN.fill(0);
  gripN.fill(0);
  const rings = frame.ringMm.length;
  const sectors = wall.sectors;
  const columns = ratios.length;
  const radii = new Float64Array(columns);
  const bias = Float64Array.from({ length: sectors }, (_, j) =>
    biasMm * Math.cos((2 * Math.PI * j) / sectors - biased.biasAzimuthRad),
  );
  const plateau = frame.plateauNPerMm2;
  const rowsPerStep = Math.round(into.stepMm / wall.stepMm);
  const offset = Math.round((into.lowMm - wall.lowMm) / wall.stepMm);
  const { radiusMm, radiusSlope, stiffnessNPerMm3, stiffnessSlope } = wall;
  for (let i = 0; i < rings; i++) {
    const free = frame.freeRadiusMm[i]!;
    const kf = frame.stiffnessNPerMm3[i]! * frameFactor;
    const area = frame.weightMm[i]! * free * ((2 * Math.PI) / sectors);
    for (let c = 0; c < columns; c++) radii[c] = computeRingRadius(frame, i, ratios[c]!);
    const firstRow = offset + Math.round(frame.ringMm[i]! / wall.stepMm);
    for (let z = 0; z < positions; z++) {
      let at = (firstRow + z * rowsPerStep) * sectors;
      for (let j = 0; j < sectors; j++, at++) {
        const r = radiusMm[at]!;
        const most = free - r;
        const shift = bias[j]!;
        if (most <= 0 && most + shift <= 0) continue;
        const kw = stiffnessNPerMm3[at]!;
        const q = kf / (kf + kw);
        const k = q * kw;
        const dR = radiusSlope[at]!;
        const soft = stiffnessSlope[at]! * q * q;
        const perLoad = k / plateau;
        const scale = soft / (perLoad * perLoad);
        let known = -1;
        let grip = 0;
        let drive = 0;
        for (let c = columns; c >= 0; c--) {
          const overlap = c === columns ? most : radii[c]! - r + shift;
          if (overlap <= 0) {
            if (c === columns) continue; // the wire may press where the free frame does not reach
            break;
          }
          if (overlap !== known) {
            known = overlap;
            const x = perLoad * overlap;
            const y = x / (1 + x);
            grip = area * plateau * y;
            drive = grip * dR;
            if (soft !== 0) drive -= area * scale * (Math.log1p(x) - y);
          }
          const cell = c * positions + z;
          gripN[cell]! += grip;
          if (drive > 0) upN[cell]! += drive;
          else downN[cell]! -= drive;
        }
      }
    }
  }
  return into;
}
