import { fitLeastSquares } from '../math/solve-small.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';

export interface CrownRefinement {
  readonly crown: Crown;
  /** Standard deviation of each nadir's height and azimuth, from the fit. */
  readonly nadirSdMm: readonly number[];
  readonly nadirSdRad: readonly number[];
  /** Trusted hinges within half a cusp of each nadir. */
  readonly support: readonly number[];
  /** Median distance of the trusted hinges from the crown, mm. */
  readonly scatterMm: number;
}

const TURN = 2 * Math.PI;
const wrap = (a: number): number => a - TURN * Math.floor(a / TURN);
/** Height scatter of the model itself: real attachments are not parabolas. */
const MODEL_SD_MM = 0.35;

/** Fits at a bound, or that explain the picture poorly, say nothing about the hinge. */
export function isTrusted(h: Hinge): boolean {
  return h.misfit < 0.15 && h.heightSdMm < 0.6 && h.leafletMm < 2.95 && h.leafletMm > 0.12;
}

/**
 * Least squares crown through the hinges, robust against wrong ones; the three nadirs come from it.
 * Priors: each half cusp spans 60 +- 14 degrees, commissures stand 14 +- 5 mm above the nadirs.
 */
export function refineCrown(hinges: readonly Hinge[], start: Crown): CrownRefinement {
  const used = hinges.filter(isTrusted);
  const p0 = [...start.nadirRad, ...start.nadirMm, ...start.commissureRad, ...start.commissureMm];
  const unwrap = (p: ArrayLike<number>): Crown => ({
    nadirRad: [wrap(p[0]!), wrap(p[1]!), wrap(p[2]!)],
    nadirMm: [p[3]!, p[4]!, p[5]!],
    commissureRad: [wrap(p[6]!), wrap(p[7]!), wrap(p[8]!)],
    commissureMm: [p[9]!, p[10]!, p[11]!],
  });
  const n = used.length;
  const rows = n + 12;
  const fit = fitLeastSquares(
    (p, out) => {
      const crown = unwrap(p);
      for (let i = 0; i < n; i++) {
        const h = used[i]!;
        const model = readCrown(crown, h.azimuthRad);
        const slope = Math.abs(readCrown(crown, h.azimuthRad + 0.02) - readCrown(crown, h.azimuthRad - 0.02)) / 0.04;
        // A steep crown turns azimuth error into height error: 2 degrees of it, and the model bends there.
        const sd = Math.sqrt(h.heightSdMm ** 2 + MODEL_SD_MM ** 2 + (0.035 * slope) ** 2);
        const e = (h.heightMm - model) / sd;
        const m = Math.abs(e);
        out[i] = m <= 1.5 ? e : Math.sign(e) * (1.5 + Math.log1p(m - 1.5));
      }
      for (let i = 0; i < 3; i++) {
        const next = (i + 1) % 3;
        out[n + i] = (wrap(p[6 + i]! - p[i]!) - TURN / 6) / 0.25;
        out[n + 3 + i] = (wrap(p[next]! - p[6 + i]!) - TURN / 6) / 0.25;
        out[n + 6 + i] = (p[9 + i]! - (p[3 + i]! + p[3 + next]!) / 2 - 14) / 5;
        out[n + 9 + i] = (p[3 + i]! - (p[3]! + p[4]! + p[5]!) / 3) / 6;
      }
    },
    p0,
    rows,
    [0.01, 0.01, 0.01, 0.05, 0.05, 0.05, 0.01, 0.01, 0.01, 0.1, 0.1, 0.1],
    p0.map((v, k) => v - (k < 3 || (k >= 6 && k < 9) ? 1 : 12)),
    p0.map((v, k) => v + (k < 3 || (k >= 6 && k < 9) ? 1 : 12)),
    40,
  );
  const crown = unwrap(fit.parameters);
  const offs = used.map((h) => Math.abs(h.heightMm - readCrown(crown, h.azimuthRad))).sort((a, b) => a - b);
  const inflate = Math.max(1, Math.sqrt(fit.residualSum / Math.max(1, n - 12)));
  const sd = (k: number): number =>
    fit.inverseNormal ? inflate * Math.sqrt(Math.max(0, fit.inverseNormal[k * 12 + k]!)) : Infinity;
  return {
    crown,
    nadirSdMm: [sd(3), sd(4), sd(5)],
    nadirSdRad: [sd(0), sd(1), sd(2)],
    support: crown.nadirRad.map(
      (nadir) => used.filter((h) => Math.min(wrap(h.azimuthRad - nadir), wrap(nadir - h.azimuthRad)) < TURN / 9).length,
    ),
    scatterMm: offs.length > 0 ? offs[offs.length >> 1]! : Infinity,
  };
}
