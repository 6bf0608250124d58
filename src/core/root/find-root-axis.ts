import { along, distance, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { CoarseField } from '../volume/coarse-field.ts';
import { measureSection, type Tube, type TubeSection } from './find-tubes.ts';

/** A place where an opacified tube may open, through a valve, into a ventricle. */
export interface RootCandidate {
  /** Near the narrowest section between tube and chamber. */
  readonly ringCentreLps: Vec3;
  /** Unit, from the ring into the tube. */
  readonly axisLps: Vec3;
  readonly bloodHu: number;
  readonly ringRadiusMm: number;
  /** Larger is better; comparable within one scan only. */
  readonly score: number;
  readonly tube: Tube;
  /** Sections of the tube, from the valve end outward. */
  readonly fromValve: readonly TubeSection[];
}

const FOLLOW_MM = 66;
const STEP_MM = 1.5;
const CHAMBER_RADIUS_MM = 19;

interface Followed {
  readonly centreLps: Vec3;
  readonly radiusMm: number;
  readonly isCut: boolean;
}

/** Walks on past a tube's end, recentring on the lumen, the direction turning slowly toward the path walked. */
function followBeyond(f: CoarseField, start: Vec3, direction: Vec3, bloodHu: number): Followed[] {
  const out: Followed[] = [];
  let d = direction;
  let p = start;
  for (let t = 0; t < FOLLOW_MM; t += STEP_MM) {
    const s = measureSection(f, p, d, bloodHu);
    if (!s) break;
    const shift = sub(s.centreLps, p);
    const far = Math.sqrt(dot(shift, shift));
    // Inside a chamber the centre runs away sideways; half a millimetre a step is all a root asks for.
    const centre = along(p, shift, Math.min(1, 0.75 / Math.max(far, 1e-9)));
    out.push({ centreLps: centre, radiusMm: s.radiusMm, isCut: s.cutShare > 0.3 });
    if (out.length > 8 && s.radiusMm < 20) {
      const back = out[out.length - 8]!.centreLps;
      d = unit([0.85 * d[0], 0.85 * d[1], 0.85 * d[2]].map((c, a) => c + 0.15 * unit(sub(centre, back))[a]!) as unknown as Vec3);
    }
    p = along(centre, d, STEP_MM);
  }
  return out;
}

/** Judges one end of one tube; null when nothing like a ventricle follows it. */
function judgeEnd(f: CoarseField, tube: Tube, fromValve: readonly TubeSection[]): RootCandidate | null {
  // The last sections may already lie in the sinuses: start a little inside the tube.
  const start = fromValve[Math.min(4, fromValve.length - 1)]!;
  const ahead = fromValve[Math.min(14, fromValve.length - 1)]!;
  const outward = unit(sub(start.centreLps, ahead.centreLps));
  const path = followBeyond(f, start.centreLps, outward, start.bloodHu);
  const tubeRadius = fromValve.slice(0, 15).map((s) => s.radiusMm).sort((a, b) => a - b)[Math.min(7, fromValve.length >> 1)]!;
  const chamberAt = path.findIndex((s, i) => s.radiusMm >= CHAMBER_RADIUS_MM && (path[i + 2]?.radiusMm ?? 0) >= CHAMBER_RADIUS_MM);
  if (chamberAt < 3 || path[chamberAt]!.isCut) return null;
  let ringAt = 0;
  for (let i = 0; i < chamberAt; i++) if (path[i]!.radiusMm < path[ringAt]!.radiusMm) ringAt = i;
  const ring = path[ringAt]!;
  if (ring.radiusMm < 7 || ring.radiusMm > 18) return null;
  const above = fromValve.find((s) => distance(s.centreLps, ring.centreLps) > 24) ?? fromValve[fromValve.length - 1]!;
  const axis = unit(sub(above.centreLps, ring.centreLps));
  const narrowing = Math.min(0.5, Math.max(0, tubeRadius / ring.radiusMm - 1));
  const score = Math.min(tube.lengthMm, 120) / 40 + 2 * axis[2] + 2 * narrowing;
  return { ringCentreLps: ring.centreLps, axisLps: axis, bloodHu: start.bloodHu, ringRadiusMm: ring.radiusMm, score, tube, fromValve };
}

/**
 * Candidates for the aortic root, best first: tube ends that narrow and then open into a chamber.
 * The pulmonary trunk looks alike; where both are opacified the aortic one lies behind it, and its tube is longer.
 */
export function findRootCandidates(f: CoarseField, tubes: readonly Tube[]): RootCandidate[] {
  const found: RootCandidate[] = [];
  for (const tube of tubes) {
    const reversed = [...tube.sections].reverse().map((s) => ({ ...s, direction: scale(s.direction, -1) as Vec3 }));
    for (const fromValve of [tube.sections, reversed]) {
      const candidate = judgeEnd(f, tube, fromValve);
      if (candidate) found.push(candidate);
    }
  }
  const merged: RootCandidate[] = [];
  for (const c of found.sort((a, b) => b.score - a.score)) {
    if (!merged.some((m) => distance(m.ringCentreLps, c.ringCentreLps) < 14)) merged.push(c);
  }
  // +y is posterior: 20 mm further back outweighs a little length.
  const meanY = merged.reduce((sum, c) => sum + c.ringCentreLps[1], 0) / Math.max(1, merged.length);
  return merged
    .map((c) => ({ ...c, score: c.score + (c.ringCentreLps[1] - meanY) / 20 }))
    .sort((a, b) => b.score - a.score);
}
