import type { CalciumInput } from '../root/measure-calcium.ts';
import { makeRootFrame } from '../root/root-frame.ts';
import type { FactStamp } from '../units/fact.ts';
import type { DrawnPhantom, PhantomScan, PhantomShape } from './phantom-types.ts';
import { commissureHeight, RAD, readAxis, readWall, tabulateRootWall, type RootWall } from './root-wall.ts';

const LOW_MM = -12;
const STEP_MM = 0.5;
const AZIMUTHS = 120;

/** From the frame's axis to the wall along an azimuth; the wall's own axis may be shifted. */
function findRadius(wall: RootWall, azimuthRad: number, heightMm: number): number {
  const [ax, ay] = readAxis(wall, heightMm);
  let [low, high] = [0, 40];
  for (let n = 0; n < 40; n++) {
    const mid = (low + high) / 2;
    const [x, y] = [mid * Math.cos(azimuthRad) - ax, mid * Math.sin(azimuthRad) - ay];
    if (Math.hypot(x, y) < readWall(wall, wall.radiusMm, Math.atan2(y, x), heightMm)) low = mid;
    else high = mid;
  }
  return low;
}

/**
 * What the root survey would hand to `measureCalcium`, from a phantom's truth: to measure calcium alone, without the
 * survey's own errors. Azimuths of the commissures are those of the frame at their height.
 */
export function makeTrueCalciumInput(shape: PhantomShape, scan: PhantomScan, drawn: DrawnPhantom, stamp: FactStamp): CalciumInput {
  const { volume, truth } = drawn;
  const wall = tabulateRootWall(shape);
  const heights = Math.round((shape.junction.heightMm + 6 - LOW_MM) / STEP_MM) + 1;
  const radiusMm = new Float64Array(heights * AZIMUTHS);
  for (let h = 0; h < heights; h++) {
    for (let a = 0; a < AZIMUTHS; a++) radiusMm[h * AZIMUTHS + a] = findRadius(wall, (2 * Math.PI * a) / AZIMUTHS, LOW_MM + h * STEP_MM);
  }
  const turnOf = (c: 'RL' | 'LN' | 'NR'): number => {
    const heightMm = commissureHeight(shape, c);
    const [ax, ay] = readAxis(wall, heightMm);
    const a = shape.commissureAzimuthDeg[c] * RAD;
    const r = readWall(wall, wall.radiusMm, a, heightMm);
    const turn = Math.atan2(ay + r * Math.sin(a), ax + r * Math.cos(a));
    return turn < 0 ? turn + 2 * Math.PI : turn;
  };
  const [rl, ln, nr] = [turnOf('RL'), turnOf('LN'), turnOf('NR')];
  return {
    volume, frame: makeRootFrame(truth.basalPlane.pointLps, truth.basalPlane.normalLps, truth.basalPlane.nadirsLps.R),
    wall: { radiusMm, heights, azimuths: AZIMUTHS, lowMm: LOW_MM, stepMm: STEP_MM },
    commissureRad: { R: { from: nr, to: rl }, L: { from: rl, to: ln }, N: { from: ln, to: nr } },
    bloodHu: scan.contrastHu, bloodPerMmHu: scan.contrastGradientHuPerCm / 10, noiseHu: scan.noise.sdHu,
    blurMm: Math.cbrt(scan.blurMm.inPlane ** 2 * scan.blurMm.z), junctionHeightMm: shape.junction.heightMm, stamp, doubts: [],
  };
}
