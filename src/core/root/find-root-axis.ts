import { along, distance, dot, sub, unit, type Vec3 } from '../math/vec3.ts';
import { OUTSIDE_HU, readCoarse, type CoarseField } from '../volume/coarse-field.ts';
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
}

const FOLLOW_MM = 66;
const STEP_MM = 1.5;

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

interface PathPoint {
  readonly centreLps: Vec3;
  readonly radiusMm: number;
  /** Outside the tube proper: found by walking on past its end. */
  readonly isBeyond: boolean;
}

/** The tube with what follows past both its ends, evenly every STEP_MM or so. */
function extendTube(f: CoarseField, tube: Tube): PathPoint[] {
  const s = tube.sections;
  const walk = (fromEnd: readonly TubeSection[]): PathPoint[] => {
    // The last sections may already lie in the sinuses or the chamber: start a little inside the tube.
    const back = Math.min(3, fromEnd.length - 1);
    const start = fromEnd[back]!;
    const inner = fromEnd[Math.min(back + 8, fromEnd.length - 1)]!;
    const outward = unit(sub(start.centreLps, inner.centreLps));
    return followBeyond(f, start.centreLps, outward, start.bloodHu)
      .slice(3)
      .filter((p) => !p.isCut)
      .map((p) => ({ centreLps: p.centreLps, radiusMm: p.radiusMm, isBeyond: true }));
  };
  const head = walk(s).reverse();
  const tail = walk([...s].reverse());
  return [...head, ...s.slice(3, -3).map((x) => ({ centreLps: x.centreLps, radiusMm: x.radiusMm, isBeyond: false })), ...tail];
}

/** Waists of a path: a narrow place with a wider tube on one side and a chamber on the other; both directions tried. */
function findWaists(f: CoarseField, tube: Tube, path: readonly PathPoint[]): RootCandidate[] {
  const found: RootCandidate[] = [];
  const r = path.map((_, i) => {
    const near = path.slice(Math.max(0, i - 1), i + 2).map((p) => p.radiusMm);
    return near.reduce((a, b) => a + b, 0) / near.length;
  });
  const way: number[] = [0];
  for (let i = 1; i < path.length; i++) way.push(way[i - 1]! + distance(path[i]!.centreLps, path[i - 1]!.centreLps));
  const within = (i: number, low: number, high: number, sign: 1 | -1): number[] =>
    r.filter((_, k) => {
      const d = sign * (way[k]! - way[i]!);
      return d >= low && d <= high;
    });
  for (let i = 2; i < path.length - 2; i++) {
    if (r[i]! < 7 || r[i]! > 18) continue;
    if (within(i, -9, 9, 1).some((v) => v < r[i]! - 1e-9)) continue;
    for (const sign of [1, -1] as const) {
      const chamber = within(i, 8, 50, sign > 0 ? -1 : 1);
      const vessel = within(i, 10, 40, sign);
      const sinus = within(i, 4, 24, sign);
      if (chamber.length < 4 || vessel.length < 8 || sinus.length < 4) continue;
      const chamberRatio = Math.max(...chamber) / r[i]!;
      const sinusRatio = Math.max(...sinus) / r[i]!;
      if (chamberRatio < 1.2 || sinusRatio < 1.06) continue;
      let above = path[i]!;
      for (let k = i; k >= 0 && k < path.length; k += sign) {
        above = path[k]!;
        if (sign * (way[k]! - way[i]!) > 22) break;
      }
      const axis = unit(sub(above.centreLps, path[i]!.centreLps));
      const aorticLengthMm = sign > 0 ? way[way.length - 1]! - way[i]! : way[i]!;
      const vesselSpread = Math.max(...vessel) / Math.min(...vessel) - 1;
      const bloodHu = tubeBlood(tube);
      const score =
        4 * Math.min(0.35, measureBloodBelow(f, path[i]!.centreLps, axis, bloodHu)) +
        Math.min(aorticLengthMm, 110) / 50 +
        2 * Math.min(0.6, chamberRatio - 1) +
        1.5 * Math.min(0.5, sinusRatio - 1) -
        1.5 * Math.max(0, vesselSpread - 0.35);
      found.push({ ringCentreLps: path[i]!.centreLps, axisLps: axis, bloodHu, ringRadiusMm: r[i]!, score, tube });
    }
  }
  return found;
}

const BALL_MM = 36;
const BALL_STEP_MM = 3;
const LEAST_BELOW_MM = 6;

/**
 * Share of the half ball below a waist that is filled with blood like the tube's, of what lies in the scan: a ventricle with
 * its atrium beside it fills a third and more, an arch or a vessel's end a fifth and less.
 */
function measureBloodBelow(f: CoarseField, centre: Vec3, axis: Vec3, bloodHu: number): number {
  let blood = 0;
  let all = 0;
  for (let x = -BALL_MM; x <= BALL_MM; x += BALL_STEP_MM) {
    for (let y = -BALL_MM; y <= BALL_MM; y += BALL_STEP_MM) {
      for (let z = -BALL_MM; z <= BALL_MM; z += BALL_STEP_MM) {
        if (x * x + y * y + z * z > BALL_MM * BALL_MM || x * axis[0] + y * axis[1] + z * axis[2] > -LEAST_BELOW_MM) continue;
        const h = readCoarse(f, centre[0] + x, centre[1] + y, centre[2] + z);
        if (h === OUTSIDE_HU) continue;
        all++;
        if (Math.abs(h - bloodHu) < 0.22 * bloodHu) blood++;
      }
    }
  }
  return all > 0 ? blood / all : 0;
}

function tubeBlood(tube: Tube): number {
  const levels = tube.sections.map((s) => s.bloodHu).sort((a, b) => a - b);
  return levels[levels.length >> 1]!;
}

/**
 * Candidates for the aortic root, best first: tube ends that narrow and then open into a chamber. Nothing here knows
 * where the patient's head is: the way up is the likelier one by length and width, and the crown has the last word
 * (glanceAtCandidate looks both ways). The pulmonary trunk looks alike; its tube is shorter and its crown is tried later.
 */
export function findRootCandidates(f: CoarseField, tubes: readonly Tube[]): RootCandidate[] {
  const found = tubes.flatMap((tube) => findWaists(f, tube, extendTube(f, tube)));
  const merged: RootCandidate[] = [];
  for (const c of found.sort((a, b) => b.score - a.score)) {
    if (!merged.some((m) => distance(m.ringCentreLps, c.ringCentreLps) < MERGE_MM)) merged.push(c);
  }
  return merged;
}

const MERGE_MM = 14;
