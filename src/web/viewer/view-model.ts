import { MARK_NAMES, type MarkName } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { dot } from '../../core/math/vec3.ts';
import { cutFromLps } from '../../core/root/make-root-cuts.ts';
import type { CutPlane, CutPoint } from '../../core/root/cut-types.ts';
import { placeAcross, placeAlong, type ViewPose } from '../../core/root/place-view.ts';
import { cylinderFromLps, type RootFrame } from '../../core/root/root-frame.ts';
import type { RootSurvey, Xyz } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import type { MovedMarks } from '../state/viewer-slot.ts';
import type { Grip } from './hit-marks.ts';

/** One view across the root, and one along it through each mark. */
export type AlongName = `along:${MarkName}`;
export type ViewName = 'across' | AlongName;
export const ALONG_NAMES: readonly AlongName[] = MARK_NAMES.map((m) => `along:${m}` as const);
export const markOfView = (view: AlongName): MarkName => view.slice('along:'.length) as MarkName;

/** A mark as it stands now. */
export interface ShownMark {
  readonly name: MarkName;
  readonly lps: Xyz;
  /** A person set it; otherwise the tool found it. */
  readonly isByPerson: boolean;
}

/** Marks as they stand: what is being moved, before what the case holds, before what the plan found. */
export function listShownMarks(root: RootSurvey, state: Pick<CaseState, 'marks'>, moved: MovedMarks | null): readonly ShownMark[] {
  return MARK_NAMES.flatMap((name): readonly ShownMark[] => {
    const byPerson = moved?.marks[name] ?? state.marks[name]?.lps;
    const lps = byPerson ?? findMark(root, name);
    return lps ? [{ name, lps, isByPerson: Boolean(byPerson) }] : [];
  });
}
/** Where the plan has a mark; null where it found none. */
function findMark(root: RootSurvey, name: MarkName): Xyz | null {
  if (name === 'ostium.left') return root.coronaries.left?.ostiumLps ?? null;
  if (name === 'ostium.right') return root.coronaries.right?.ostiumLps ?? null;
  return root.basalPlane.nadirsLps[name.slice(-1) as 'R' | 'L' | 'N'];
}

export const nameMark = (name: MarkName): string => VIEWER_EN[name];
/** R, L, N; an ostium has no letter of its own, so that none can be taken for a cusp's. */
export const letterOf = (name: MarkName): string | null => (name.startsWith('nadir.') ? name.slice(-1) : null);
/** The cusp whose line style a mark carries. */
export const cuspOf = (name: MarkName): 'R' | 'L' | 'N' => (name === 'ostium.left' ? 'L' : name === 'ostium.right' ? 'R' : (name.slice(-1) as 'R' | 'L' | 'N'));

export function placeView(view: ViewName, frame: RootFrame, marks: readonly ShownMark[], pose: ViewPose): CutPlane {
  if (view === 'across') return placeAcross(frame, pose);
  return placeAlong(frame, marks.find((m) => m.name === markOfView(view))?.lps ?? frame.originLps, pose);
}

/** A mark is drawn in a view, and can be taken there, when it lies this near its plane. */
const NADIR_REACH_MM = 4;
const OSTIUM_REACH_MM = 4;

export interface PlacedMark extends ShownMark, Grip<MarkName> {
  /** mm toward the viewer. */
  readonly offMm: number;
}
/** Marks that can be seen in a view, with their places in px. */
export function placeMarks(marks: readonly ShownMark[], view: ViewName, plane: CutPlane, sidePx: number): readonly PlacedMark[] {
  const perMm = sidePx / plane.widthMm;
  return marks.flatMap((mark): readonly PlacedMark[] => {
    const { at, offMm } = cutFromLps(plane, mark.lps);
    const reach = letterOf(mark.name) === null ? OSTIUM_REACH_MM : NADIR_REACH_MM;
    const isOwn = view !== 'across' && markOfView(view) === mark.name;
    const isInside = at[0] >= 0 && at[1] >= 0 && at[0] <= plane.widthMm && at[1] <= plane.heightMm;
    return isInside && (isOwn || Math.abs(offMm) <= reach) ? [{ ...mark, atPx: [at[0] * perMm, at[1] * perMm], offMm }] : [];
  });
}

export function toPx(plane: CutPlane, sidePx: number, lps: Xyz): CutPoint {
  const { at } = cutFromLps(plane, lps);
  return [(at[0] * sidePx) / plane.widthMm, (at[1] * sidePx) / plane.widthMm];
}

/** The contour to draw across the root at a height: the ring on its plane, else the nearest measured level. */
export function findContour(root: RootSurvey, ring: readonly Xyz[], heightMm: number): readonly Xyz[] | null {
  if (Math.abs(heightMm) < 0.25) return ring;
  const nearest = root.levels.reduce<{ offMm: number; contour: readonly Xyz[] } | null>((best, level) => {
    const offMm = Math.abs(level.heightMm - heightMm);
    return best === null || offMm < best.offMm ? { offMm, contour: level.contourLps } : best;
  }, null);
  return nearest && nearest.offMm <= 0.5 && nearest.contour.length >= 3 ? nearest.contour : null;
}

/** Where the wall meets a view along the root, both sides of the axis, px. */
export function listWallPoints(root: RootSurvey, frame: RootFrame, plane: CutPlane, sidePx: number): readonly CutPoint[] {
  const axisX = cutFromLps(plane, frame.originLps).at[0];
  const perMm = sidePx / plane.widthMm;
  const points: CutPoint[] = [];
  for (const level of root.levels) {
    const feet = level.contourLps.map((p) => cutFromLps(plane, p));
    for (const side of [1, -1] as const) {
      let outer: CutPoint | null = null;
      feet.forEach((a, i) => {
        const b = feet[(i + 1) % feet.length]!;
        if (a.offMm >= 0 === b.offMm >= 0) return;
        const f = a.offMm / (a.offMm - b.offMm);
        const at: CutPoint = [a.at[0] + f * (b.at[0] - a.at[0]), a.at[1] + f * (b.at[1] - a.at[1])];
        if ((at[0] - axisX) * side > 0 && (outer === null || (at[0] - outer[0]) * side > 0)) outer = at;
      });
      if (outer !== null) points.push([outer[0] * perMm, outer[1] * perMm]);
    }
  }
  return points;
}

/** What a view shows, in words. */
export function describeView(view: ViewName, pose: ViewPose): string {
  if (view === 'across') {
    return Math.abs(pose.heightMm) < 0.05 ? VIEWER_EN.acrossBasal : formatText(VIEWER_EN, pose.heightMm > 0 ? 'acrossAbove' : 'acrossBelow', { mm: formatNumber(Math.abs(pose.heightMm), 1) });
  }
  const name = nameMark(markOfView(view));
  const turned = Math.round(pose.turnDeg);
  return turned === 0 ? formatText(VIEWER_EN, 'alongMark', { name }) : formatText(VIEWER_EN, 'alongTurned', { name, deg: `${turned > 0 ? '+' : '−'}${Math.abs(turned)}` });
}

/** How far a mark lies out of a view, in words; empty when it lies in it. */
export function describeOff(view: ViewName, offMm: number): string {
  if (Math.abs(offMm) < 0.5) return '';
  const [front, behind] = view === 'across' ? (['offAbove', 'offBelow'] as const) : (['offFront', 'offBehind'] as const);
  return formatText(VIEWER_EN, offMm > 0 ? front : behind, { mm: formatNumber(Math.abs(offMm), 1) });
}

/** Where the patient's sides lie in a view, as words at its edges: right, bottom, left, top. */
export function nameEdges(plane: CutPlane): readonly [string, string, string, string] {
  const name = (d: Xyz): string => {
    const axis = [0, 1, 2].reduce((best, i) => (Math.abs(d[i]!) > Math.abs(d[best]!) ? i : best), 0);
    const words = [[VIEWER_EN.sideLeft, VIEWER_EN.sideRight], [VIEWER_EN.sideBack, VIEWER_EN.sideFront], [VIEWER_EN.sideHead, VIEWER_EN.sideFeet]] as const;
    return words[axis as 0 | 1 | 2][d[axis]! > 0 ? 0 : 1];
  };
  const turned = (d: Xyz): Xyz => [-d[0], -d[1], -d[2]];
  return [name(plane.acrossLps), name(plane.downLps), name(turned(plane.acrossLps)), name(turned(plane.downLps))];
}

/** Height over the basal plane and azimuth of a place in a view, for the pointer's words. */
export function describePlace(frame: RootFrame, lps: Xyz): string {
  const { heightMm, radiusMm } = cylinderFromLps(frame, lps);
  return formatText(VIEWER_EN, 'place', { height: formatNumber(heightMm, 1), radius: formatNumber(radiusMm, 1) });
}

/** How far a mark has been moved from where it stood, mm. */
export const movedMm = (from: Xyz, to: Xyz): number => Math.sqrt(dot([to[0] - from[0], to[1] - from[1], to[2] - from[2]], [to[0] - from[0], to[1] - from[1], to[2] - from[2]]));
/** A hundredth of a millimetre: finer is no information, and a stored mark reads the same everywhere. */
export const roundLps = (p: Xyz): Xyz => [Math.round(p[0] * 100) / 100 + 0, Math.round(p[1] * 100) / 100 + 0, Math.round(p[2] * 100) / 100 + 0];
