import { scale, sub, type Vec3 } from '../math/vec3.ts';
import type { WallTable } from './find-junction.ts';
import type { Opening } from './find-ostia.ts';
import type { PolarBlock } from './polar-block.ts';
import { lpsFromCylinder, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type Cusp } from './root-types.ts';

export interface CuspNames {
  /** Index of the nadir (0, 1, 2, counter-clockwise seen from the aorta) that carries each name. */
  readonly indexOf: ByCusp<number>;
  readonly isMirrored: boolean;
  /** Lead of the chosen naming over the next best by what is seen; below 0.5 the names are doubtful. */
  readonly margin: number;
  readonly openingOf: { readonly R: Opening | null; readonly L: Opening | null };
}

/** Where the cusps face in an upright patient, LPS x and y: right forward, left to the back left, non-coronary back right. */
const FACING: ByCusp<readonly [number, number]> = { R: [0, -1], L: [0.866, 0.5], N: [-0.866, 0.5] };
/** A mirrored heart (or a mirrored scan) is rare: between two namings that the picture does not tell apart this decides ... */
const MIRROR_COST = 0.9;
/** ... but rarity is no sight: this much of it, at most, counts toward being sure. */
const MIRROR_TRUST = 0.35;
const OSTIUM_GAIN = 1.4;
/** An opening of 2 mm across counts in full. */
const FULL_AREA_MM2 = 3;

const angleBetween = (a: number, b: number): number => Math.abs(Math.atan2(Math.sin(a - b), Math.cos(a - b)));

/** Azimuth of the left atrium behind the root, from blood of the left heart just outside the wall; null when none is seen. */
export function findBack(block: PolarBlock, table: WallTable, bloodHu: number): number | null {
  const { azimuths, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  let x = 0;
  let y = 0;
  let all = 0;
  let samples = 0;
  for (let mm = BACK_LOW_MM; mm <= BACK_HIGH_MM; mm += 1) {
    const h = Math.round((mm - lowMm) / dh);
    if (h < 0 || h >= table.heights) continue;
    for (let a = 0; a < azimuths; a++) {
      const c = h * azimuths + a;
      const from = Math.round((table.radiusMm[c]! + 4) / dr);
      for (let k = from; k <= Math.round((table.radiusMm[c]! + 10) / dr) && k < radii; k += 2) {
        samples++;
        // The right heart is opacified differently; blood of the left heart is alike within a sixth.
        if (!(Math.abs(valuesHu[c * radii + k]! - bloodHu) < bloodHu / 6)) continue;
        const t = (2 * Math.PI * a) / azimuths;
        x += Math.cos(t);
        y += Math.sin(t);
        all++;
      }
    }
  }
  if (samples === 0 || all < 0.04 * samples || Math.hypot(x, y) < 0.4 * all) return null;
  return Math.atan2(y, x);
}

const BACK_LOW_MM = -4;
const BACK_HIGH_MM = 14;

/** The best opening within a cusp's sector, and how central it lies. */
function openingIn(openings: readonly Opening[], nadirRad: number): { opening: Opening; value: number } | null {
  let best: { opening: Opening; value: number } | null = null;
  for (const opening of openings) {
    const off = angleBetween(opening.azimuthRad, nadirRad);
    if (off > 1.05) continue;
    const value = Math.min(1, opening.areaMm2 / FULL_AREA_MM2) * opening.strength * (1 - 0.35 * (off / 1.05));
    if (!best || value > best.value) best = { opening, value };
  }
  return best;
}

/**
 * Names by anatomy: coronary arteries leave the R and L sinuses, the R sinus faces forward, and seen from the aorta the
 * order is R, L, N counter-clockwise unless the heart is mirrored; the R sinus faces away from the left atrium, which
 * holds also when the patient lies turned. The six namings are scored; the best wins.
 */
export function nameCusps(frame: RootFrame, nadirRad: readonly number[], openings: readonly Opening[], backRad: number | null = null): CuspNames {
  const inSector = nadirRad.map((n) => openingIn(openings, n));
  const facing = nadirRad.map((azimuthRad) => {
    const tip = lpsFromCylinder(frame, { azimuthRad, heightMm: 0, radiusMm: 10 });
    const d: Vec3 = sub(tip, frame.originLps);
    // A cusp that points along the body faces nowhere: no more than its share across the body counts.
    return scale([d[0], d[1], 0], 0.1);
  });
  const namings: { names: Cusp[]; isMirrored: boolean; score: number }[] = [];
  for (const isMirrored of [false, true]) {
    for (let turn = 0; turn < 3; turn++) {
      const order: readonly Cusp[] = isMirrored ? ['R', 'N', 'L'] : ['R', 'L', 'N'];
      const names = [0, 1, 2].map((i) => order[(i + turn) % 3]!);
      let score = isMirrored ? -MIRROR_COST : 0;
      names.forEach((name, i) => {
        const side = isMirrored ? -1 : 1;
        if (backRad !== null) {
          const toBack = Math.cos(nadirRad[i]! - backRad);
          score += name === 'R' ? -toBack : 0.3 * toBack;
        }
        score += (backRad === null ? 0.5 : 0.4) * (side * FACING[name][0] * facing[i]![0] + FACING[name][1] * facing[i]![1]);
        const value = inSector[i]?.value ?? 0;
        score += name === 'N' ? -OSTIUM_GAIN * value : OSTIUM_GAIN * value;
      });
      namings.push({ names, isMirrored, score });
    }
  }
  namings.sort((a, b) => b.score - a.score);
  const best = namings[0]!;
  const lead = (other: (typeof namings)[number]): number =>
    best.score - other.score - (other.isMirrored && !best.isMirrored ? MIRROR_COST - MIRROR_TRUST : 0);
  const indexOf = Object.fromEntries(CUSPS.map((c) => [c, best.names.indexOf(c)])) as Record<Cusp, number>;
  return {
    indexOf,
    isMirrored: best.isMirrored,
    margin: Math.max(0, Math.min(...namings.slice(1).map(lead))),
    openingOf: { R: inSector[indexOf.R]?.opening ?? null, L: inSector[indexOf.L]?.opening ?? null },
  };
}
