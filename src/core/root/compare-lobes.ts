import type { CrownEvidence } from './find-crown.ts';
import { findJunction, type WallTable } from './find-junction.ts';

/** How well two and three equal cusps explain the wall of one root. */
export interface LobeComparison {
  /** Mean evidence along the best regular crown of two and of three cusps; the scale of `CrownFit.score`. */
  readonly twoCuspScore: number;
  readonly threeCuspScore: number;
  /** Amplitude of the second and third wave of the sinus bulge over azimuth, mm. */
  readonly secondWaveMm: number;
  readonly thirdWaveMm: number;
}

const TURN = 2 * Math.PI;
const RISES_MM = [11, 14, 17];
const OFFSETS_MM = [-3, -1.5, 0, 1.5, 3];
const TILTS_MM = [-2, 0, 2];
/** Where no junction is found the bulge is read as if the sinuses were this high. */
const USUAL_JUNCTION_MM = 19;

/**
 * Two cusps against three on the unrolled wall: the crowns first, then the waves of the bulge.
 * Shape     `evidence` and `wall` in one frame whose plane lies near the nadirs
 * Source    docs/methods/valve-form.md, "Two lobes against three"
 */
export function compareLobes(evidence: CrownEvidence, wall: WallTable): LobeComparison {
  const [second, third] = measureBulgeWaves(wall);
  return { twoCuspScore: seekRegularCrown(evidence, 2, OFFSETS_MM, TILTS_MM).score, threeCuspScore: seekRegularCrown(evidence, 3, OFFSETS_MM, TILTS_MM).score, secondWaveMm: second, thirdWaveMm: third };
}

/** A crown of equal cusps: height = offset + tilt, rising with the square of the way toward each commissure. */
export interface RegularCrown {
  readonly score: number;
  readonly offsetMm: number;
  /** Height added toward azimuth 0 and 90 degrees, at the wall. */
  readonly tiltMm: readonly [number, number];
}

/** The regular crown of `cusps` cusps with the best mean evidence: turned, shifted, tilted. */
export function seekRegularCrown(e: CrownEvidence, cusps: number, offsetsMm: readonly number[], tiltsMm: readonly number[]): RegularCrown {
  const { azimuths, heights, lowMm, heightStepMm, values } = e;
  const span = TURN / cusps;
  let best: RegularCrown = { score: -Infinity, offsetMm: 0, tiltMm: [0, 0] };
  for (let turn = 0; turn < span - 1e-9; turn += TURN / 60) {
    // Share of the way from nadir to commissure, squared: the rise of the attachment.
    const rises: number[] = [];
    for (let a = 0; a < azimuths; a += 2) {
      const from = (TURN * a) / azimuths - turn;
      const off = from - span * Math.round(from / span);
      rises.push((off / (span / 2)) ** 2);
    }
    for (const rise of RISES_MM) {
      for (const offsetMm of offsetsMm) {
        for (const x of tiltsMm) {
          for (const y of tiltsMm) {
            let sum = 0;
            for (let i = 0; i < rises.length; i++) {
              const rad = (TURN * 2 * i) / azimuths;
              const row = Math.round((offsetMm + rise * rises[i]! + x * Math.cos(rad) + y * Math.sin(rad) - lowMm) / heightStepMm);
              sum += row >= 0 && row < heights ? values[row * azimuths + 2 * i]! : -1;
            }
            if (sum / rises.length > best.score) best = { score: sum / rises.length, offsetMm, tiltMm: [x, y] };
          }
        }
      }
    }
  }
  return best;
}

/** Second and third wave of what the sinuses add to the straight wall between plane and junction, 0.3 to 0.7 of the way up. */
function measureBulgeWaves(wall: WallTable): readonly [number, number] {
  const { azimuths, heights, lowMm, stepMm, radiusMm } = wall;
  const row = (mm: number): number => Math.max(0, Math.min(heights - 1, Math.round((mm - lowMm) / stepMm)));
  const topMm = findJunction(wall)?.heightMm ?? USUAL_JUNCTION_MM;
  const [bottom, top] = [row(-0.5), row(topMm + 1)];
  const sums = [2, 3].map(() => ({ x: 0, y: 0 }));
  let rows = 0;
  for (let h = row(0.3 * topMm); h <= row(0.7 * topMm); h++, rows++) {
    const share = (h - bottom) / Math.max(1, top - bottom);
    for (let a = 0; a < azimuths; a++) {
      const straight = radiusMm[bottom * azimuths + a]! * (1 - share) + radiusMm[top * azimuths + a]! * share;
      const bulge = radiusMm[h * azimuths + a]! - straight;
      sums.forEach((s, i) => {
        s.x += bulge * Math.cos(((i + 2) * TURN * a) / azimuths);
        s.y += bulge * Math.sin(((i + 2) * TURN * a) / azimuths);
      });
    }
  }
  const [second, third] = sums.map((s) => (2 * Math.hypot(s.x, s.y)) / Math.max(1, rows * azimuths));
  return [second!, third!];
}
