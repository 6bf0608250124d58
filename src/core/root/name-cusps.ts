import { sub, unit, type Vec3 } from '../math/vec3.ts';
import type { Opening } from './find-ostia.ts';
import { lpsFromCylinder, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type Cusp } from './root-types.ts';

export interface CuspNames {
  /** Index of the nadir (0, 1, 2, counter-clockwise seen from the aorta) that carries each name. */
  readonly indexOf: ByCusp<number>;
  readonly isMirrored: boolean;
  /** Lead of the chosen naming over the next best; below 0.5 the names are doubtful. */
  readonly margin: number;
  readonly openingOf: { readonly R: Opening | null; readonly L: Opening | null };
}

/** Where the cusps face in an upright patient, LPS x and y: right forward, left to the back left, non-coronary back right. */
const FACING: ByCusp<readonly [number, number]> = { R: [0, -1], L: [0.866, 0.5], N: [-0.866, 0.5] };
const MIRROR_COST = 1.2;
const OSTIUM_GAIN = 1.1;

const angleBetween = (a: number, b: number): number => Math.abs(Math.atan2(Math.sin(a - b), Math.cos(a - b)));

/** The best opening within a cusp's sector, and how central it lies. */
function openingIn(openings: readonly Opening[], nadirRad: number): { opening: Opening; value: number } | null {
  let best: { opening: Opening; value: number } | null = null;
  for (const opening of openings) {
    const off = angleBetween(opening.azimuthRad, nadirRad);
    if (off > 1.05) continue;
    const value = Math.min(1, opening.areaMm2 / 5) * opening.strength * (1 - 0.35 * (off / 1.05));
    if (!best || value > best.value) best = { opening, value };
  }
  return best;
}

/**
 * Names by anatomy: coronary arteries leave the R and L sinuses, the R sinus faces forward, and seen from the aorta the
 * order is R, L, N counter-clockwise unless the heart is mirrored. The six namings are scored; the best wins.
 */
export function nameCusps(frame: RootFrame, nadirRad: readonly number[], openings: readonly Opening[]): CuspNames {
  const inSector = nadirRad.map((n) => openingIn(openings, n));
  const facing = nadirRad.map((azimuthRad) => {
    const tip = lpsFromCylinder(frame, { azimuthRad, heightMm: 0, radiusMm: 10 });
    const d: Vec3 = sub(tip, frame.originLps);
    return unit([d[0], d[1], 0]);
  });
  const namings: { names: Cusp[]; isMirrored: boolean; score: number }[] = [];
  for (const isMirrored of [false, true]) {
    for (let turn = 0; turn < 3; turn++) {
      const order: readonly Cusp[] = isMirrored ? ['R', 'N', 'L'] : ['R', 'L', 'N'];
      const names = [0, 1, 2].map((i) => order[(i + turn) % 3]!);
      let score = isMirrored ? -MIRROR_COST : 0;
      names.forEach((name, i) => {
        const side = isMirrored ? -1 : 1;
        score += 0.5 * (side * FACING[name][0] * facing[i]![0] + FACING[name][1] * facing[i]![1]);
        const value = inSector[i]?.value ?? 0;
        score += name === 'N' ? -OSTIUM_GAIN * value : OSTIUM_GAIN * value;
      });
      namings.push({ names, isMirrored, score });
    }
  }
  namings.sort((a, b) => b.score - a.score);
  const best = namings[0]!;
  const indexOf = Object.fromEntries(CUSPS.map((c) => [c, best.names.indexOf(c)])) as Record<Cusp, number>;
  return {
    indexOf,
    isMirrored: best.isMirrored,
    margin: best.score - namings[1]!.score,
    openingOf: { R: inSector[indexOf.R]?.opening ?? null, L: inSector[indexOf.L]?.opening ?? null },
  };
}
