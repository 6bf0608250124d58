import { solveSmall } from '../math/solve-small.ts';
import type { WallTable } from './find-junction.ts';

/** Radius of the wall as it would run on without the mouth; arc and height from the mouth's middle, mm. */
export type MouthWall = (arcMm: number, upMm: number) => number;

/** The wall from this far beyond the mouth's edge, where it no longer turns into the artery, ... */
const CLEAR_MM = 2;
/** ... and over this width tells how it would run on. */
const WIDTH_MM = 3.5;
const TERMS = 6;

/**
 * The wall across the mouth of an artery. The wall found there turns outward into the artery by half a millimetre and
 * more, so an artery that leaves aslant seems to leave from farther along its way.
 * Units     mm; members are cells of the table, the middle is a place on the wall
 * Equation  radius = quadratic in arc and height, least squares over the ring of wall 2 to 5.5 mm beyond the mouth's edge
 * Shape     null where the table holds too little wall around the mouth
 * Source    docs/methods/root-survey.md, "Ostia"
 */
export function bridgeMouth(table: WallTable, members: readonly number[], middle: { readonly azimuthRad: number; readonly heightMm: number; readonly radiusMm: number }): MouthWall | null {
  const { azimuths, heights, lowMm, stepMm } = table;
  const arcOf = (a: number): number => {
    const turn = (2 * Math.PI * a) / azimuths - middle.azimuthRad;
    return middle.radiusMm * Math.atan2(Math.sin(turn), Math.cos(turn));
  };
  const upOf = (h: number): number => lowMm + h * stepMm - middle.heightMm;
  const places = members.map((c) => [arcOf(c % azimuths), upOf(Math.floor(c / azimuths))] as const);
  const reachMm = Math.max(0, ...places.map(([x, y]) => Math.hypot(x, y))) + CLEAR_MM + WIDTH_MM;
  const normal = new Float64Array(TERMS * TERMS);
  const right = new Float64Array(TERMS);
  let count = 0;
  for (let h = 0; h < heights; h++) {
    const y = upOf(h);
    if (Math.abs(y) > reachMm) continue;
    for (let a = 0; a < azimuths; a++) {
      const x = arcOf(a);
      if (Math.hypot(x, y) > reachMm) continue;
      let away = Infinity;
      for (const [p, q] of places) away = Math.min(away, Math.hypot(x - p, y - q));
      if (away < CLEAR_MM || away > CLEAR_MM + WIDTH_MM) continue;
      const terms = [1, x, y, x * x, x * y, y * y];
      const radius = table.radiusMm[h * azimuths + a]!;
      for (let i = 0; i < TERMS; i++) {
        right[i]! += terms[i]! * radius;
        for (let j = 0; j < TERMS; j++) normal[i * TERMS + j]! += terms[i]! * terms[j]!;
      }
      count++;
    }
  }
  const c = count >= 4 * TERMS ? solveSmall(normal, right, TERMS) : null;
  return c && ((x, y) => c[0]! + c[1]! * x + c[2]! * y + c[3]! * x * x + c[4]! * x * y + c[5]! * y * y);
}
