import { bloodShare } from './find-wall.ts';
import type { PolarBlock } from './polar-block.ts';

export interface LeafletTrace {
  readonly lengthMm: number;
  /** Mean darkness (or calcium) along the trace, 0 to 1. */
  readonly clearness: number;
}

const STEP_MM = 0.5;
const REACH_MM = 28;
/** Longer traces have run on into another leaflet or the wall. */
const LONGEST_MM = 24;
const SEEN = 0.16;
const CALCIUM_HU = 120;

/**
 * Follows one leaflet in the half-plane of its nadir: from the hinge along the dark (or calcified) sheet to where it
 * ends. Null when less than 6 mm are seen.
 * Accuracy  docs/methods/root-survey.md, "Leaflets"
 */
export function traceLeaflet(
  block: PolarBlock,
  azimuthRad: number,
  hingeRadiusMm: number,
  hingeHeightMm: number,
  startAngleRad: number,
  bloodHu: number,
  tissueHu: number,
): LeafletTrace | null {
  const { azimuths, heights, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  const a0 = Math.round((azimuthRad / (2 * Math.PI)) * azimuths + azimuths) % azimuths;
  const read = (r: number, h: number): number => {
    const i = Math.round((h - lowMm) / dh);
    const k = Math.round(r / dr);
    if (i < 0 || i >= heights || k < 0 || k >= radii) return NaN;
    let sum = 0;
    for (let d = -2; d <= 2; d++) sum += valuesHu[(i * azimuths + ((a0 + d + azimuths) % azimuths)) * radii + k]! / 5;
    return sum;
  };
  const signAt = (r: number, h: number): number => {
    const v = read(r, h);
    if (v !== v) return 0;
    return v > bloodHu + CALCIUM_HU ? 1 : 1 - bloodShare(v, bloodHu, tissueHu);
  };
  let r = hingeRadiusMm;
  let h = hingeHeightMm;
  let angle = startAngleRad;
  let length = 0;
  let missed = 0;
  let clear = 0;
  let seen = 0;
  for (let n = 0; n < REACH_MM / STEP_MM; n++) {
    let best = -Infinity;
    let turn = 0;
    for (let t = -0.5; t <= 0.501; t += 0.125) {
      const q = angle + t;
      let sign = 0;
      for (const w of [1, 2, 3]) sign += signAt(r - w * STEP_MM * Math.sin(q), h + w * STEP_MM * Math.cos(q)) / 3;
      const score = sign - 0.25 * t * t;
      if (score > best) {
        best = score;
        turn = t;
      }
    }
    angle = Math.max(-0.3, Math.min(2.2, angle + 0.5 * turn));
    r -= STEP_MM * Math.sin(angle);
    h += STEP_MM * Math.cos(angle);
    // At the axis a closed leaflet meets its neighbours: its own edge is not seen.
    if (r < 1.2) return null;
    const here = Math.max(signAt(r, h), signAt(r - 0.3, h), signAt(r + 0.3, h));
    // Within 2 mm of the hinge the wall itself is dark.
    if (n < 4 || here >= SEEN) {
      missed = 0;
      length = (n + 1) * STEP_MM;
      clear += here;
      seen++;
    } else if (++missed >= 4) break;
  }
  if (length < 6 || length > LONGEST_MM || seen === 0) return null;
  return { lengthMm: length, clearness: clear / seen };
}
