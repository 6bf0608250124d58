import { useMemo } from 'preact/hooks';
import { cutFromLps } from '../../core/root/make-root-cuts.ts';
import type { CutPlane, CutPoint } from '../../core/root/cut-types.ts';
import { along } from '../../core/math/vec3.ts';
import { cylinderFromLps, lpsFromCylinder, type RootFrame } from '../../core/root/root-frame.ts';
import { CUSPS, type RootSurvey, type Xyz } from '../../core/root/root-types.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { drawPath } from '../../formats/report/svg-parts.ts';
import { cuspOf, describeOff, findContour, letterOf, listWallPoints, nameEdges, nameMark, toPx, type PlacedMark, type ViewName } from './view-model.ts';

export interface OverlayScene {
  readonly view: ViewName;
  readonly root: RootSurvey;
  readonly frame: RootFrame;
  readonly plane: CutPlane;
  readonly heightMm: number;
  readonly sidePx: number;
  readonly ring: readonly Xyz[];
  readonly marks: readonly PlacedMark[];
  /** Where the other big view cuts this one. */
  readonly otherPlane: CutPlane | null;
  /** Small pictures carry no words. */
  readonly isSmall: boolean;
}

/** A white line with a dark edge: it shows on any grey. */
export function CasedPath({ d, kind = '' }: { readonly d: string; readonly kind?: string }) {
  return (
    <>
      <path class={`case ${kind}`} d={d} />
      <path class={`mark ${kind}`} d={d} />
    </>
  );
}

/** What lies under the marks: ring or wall, planes, axis, words. */
export function ViewGround(scene: OverlayScene) {
  return (
    <g aria-hidden="true">
      {scene.view === 'across' ? <AcrossGround {...scene} /> : <AlongGround {...scene} />}
      {!scene.isSmall && <Words {...scene} />}
    </g>
  );
}

function AcrossGround({ root, frame, plane, heightMm, sidePx, ring, otherPlane, isSmall }: OverlayScene) {
  const contour = findContour(root, ring, heightMm);
  const centre = along(frame.originLps, frame.normalLps, heightMm);
  return (
    <>
      {otherPlane && <path class="other" d={drawPath(crossPlanes(plane, otherPlane, centre, sidePx))} />}
      {/* Each cusp's direction in its own line style, outside the ring. */}
      {CUSPS.map((cusp) => {
        const { azimuthRad, radiusMm } = cylinderFromLps(frame, root.basalPlane.nadirsLps[cusp]);
        const at = (r: number): CutPoint => toPx(plane, sidePx, lpsFromCylinder(frame, { azimuthRad, heightMm, radiusMm: r }));
        return <CasedPath key={cusp} kind={`thin cusp-${cusp}`} d={drawPath([at(radiusMm + 2.5), at(radiusMm + 9)])} />;
      })}
      {contour && <CasedPath kind={isSmall ? 'thin' : 'ring'} d={drawPath(contour.map((p) => toPx(plane, sidePx, p)), true)} />}
    </>
  );
}

function AlongGround({ view, root, frame, plane, sidePx, otherPlane, isSmall }: OverlayScene) {
  const yAt = (heightMm: number): number => toPx(plane, sidePx, asXyz(along(frame.originLps, frame.normalLps, heightMm)))[1];
  const axisX = toPx(plane, sidePx, frame.originLps)[0];
  const junction = root.sinotubularJunction.heightMm.value;
  const basalY = yAt(0);
  // Scrolling the other view changes nothing of this.
  const dots = useMemo(() => listWallPoints(root, frame, plane, sidePx).map(([x, y]) => `M${x.toFixed(1)} ${y.toFixed(1)}h.01`).join(''), [root.levels, frame, plane, sidePx]);
  const otherY = otherPlane ? cutFromLps(plane, otherPlane.originLps).at[1] * (sidePx / plane.widthMm) : null;
  return (
    <>
      <path class="axis" d={`M${axisX.toFixed(1)} 0V${sidePx}`} />
      <CasedPath kind={isSmall ? 'thin' : `plane cusp-${cuspOf(view.slice('along:'.length) as 'nadir.R')}`} d={`M0 ${basalY.toFixed(1)}H${sidePx}`} />
      {junction !== null && <CasedPath kind="thin" d={`M0 ${yAt(junction).toFixed(1)}H${sidePx}`} />}
      {otherY !== null && Math.abs(otherY - basalY) > 3 && <path class="other" d={`M0 ${otherY.toFixed(1)}H${sidePx}`} />}
      <CasedPath kind={isSmall ? 'wall small' : 'wall'} d={dots} />
      {!isSmall && <text class="end" x={sidePx - 6} y={basalY - 6}>{VIEWER_EN.basalPlane}</text>}
      {!isSmall && junction !== null && <text class="end" x={sidePx - 6} y={yAt(junction) - 6}>{VIEWER_EN.junction}</text>}
      {!isSmall && otherY !== null && Math.abs(otherY - basalY) > 16 && <text class="end" x={sidePx - 6} y={otherY - 6}>{VIEWER_EN.thisCut}</text>}
    </>
  );
}

/** The line in which another plane through `through` is seen, across the whole view. */
function crossPlanes(plane: CutPlane, other: CutPlane, through: readonly [number, number, number], sidePx: number): readonly CutPoint[] {
  const end = (reach: number): CutPoint => toPx(plane, sidePx, asXyz(along(through, other.acrossLps, reach)));
  return [end(-200), end(200)];
}
const asXyz = (p: readonly [number, number, number]): Xyz => p;

function Words({ view, plane, sidePx }: OverlayScene) {
  const [right, bottom, left, top] = nameEdges(plane);
  const bar = (10 * sidePx) / plane.widthMm;
  const middle = sidePx / 2;
  return (
    <>
      <text x="8" y="18">{view === 'across' ? VIEWER_EN.seenFromAorta : VIEWER_EN.aorta}</text>
      {view !== 'across' && <text x="8" y={sidePx - 34}>{VIEWER_EN.ventricle}</text>}
      <text class="edge end" x={sidePx - 6} y={middle + 4}>{right}</text>
      <text class="edge" x="6" y={middle + 4}>{left}</text>
      <text class="edge mid" x={middle} y="16">{top}</text>
      <text class="edge mid" x={middle} y={sidePx - 8}>{bottom}</text>
      <CasedPath kind="thin" d={`M10 ${sidePx - 16}v6h${bar.toFixed(1)}v-6`} />
      <text x={16 + bar} y={sidePx - 9}>{VIEWER_EN.scaleBar}</text>
    </>
  );
}

/** A mark as drawn. Round: found by the tool; square: set by a person. The place itself is the small cross. */
export function MarkShape({ mark, view, middlePx, isSmall, isHeld }: { readonly mark: PlacedMark; readonly view: ViewName; readonly middlePx: number; readonly isSmall: boolean; readonly isHeld: boolean }) {
  const [x, y] = mark.atPx;
  const letter = letterOf(mark.name);
  // The letter stands away from the middle, so that it never covers the ring's inside.
  const [dx, dy] = [x - middlePx, y - middlePx];
  const length = Math.hypot(dx, dy) || 1;
  const reach = isSmall ? 14 : 34;
  // At the edge of the picture the letter stays inside it.
  const inside = (v: number): number => Math.max(13, Math.min(2 * middlePx - 13, v));
  const [lx, ly] = isSmall ? [x + (dx / length) * reach, y + (dy / length) * reach] : [inside(x + (dx / length) * reach), inside(y + (dy / length) * reach)];
  const off = isSmall ? '' : describeOff(view, mark.offMm);
  if (letter === null) {
    const isRight = dx > 0;
    return (
      <>
        <circle class="case" cx={x} cy={y} r={isSmall ? 4 : 9} />
        <circle class="mark" cx={x} cy={y} r={isSmall ? 4 : 9} />
        {!isSmall && <path class="mark thin" d={mark.isByPerson ? `M${x - 3} ${y - 3}h6v6h-6z` : `M${x - 2} ${y}h4M${x} ${y - 2}v4`} />}
        {!isSmall && (
          <text class={isRight ? 'end' : ''} x={isRight ? x - 14 : x + 14} y={y + 4}>
            {nameMark(mark.name)}{off && ` (${off})`}
          </text>
        )}
      </>
    );
  }
  const half = isSmall ? 6 : 11;
  return (
    <>
      <CasedPath kind="thin" d={drawPath([[x, y], [lx, ly]])} />
      <path class={`point${isHeld ? ' held' : ''}`} d={`M${x - 4} ${y}h8M${x} ${y - 4}v8`} />
      {mark.isByPerson
        ? <rect class="disc" x={lx - half} y={ly - half} width={2 * half} height={2 * half} rx="3" />
        : <circle class="disc" cx={lx} cy={ly} r={half} />}
      <text class={`disc-letter${isSmall ? ' small' : ''}`} x={lx} y={ly + (isSmall ? 3.5 : 5.5)}>{letter}</text>
      {off && <text class={`off ${lx > 2 * middlePx - 56 ? 'end' : lx < 56 ? '' : 'mid'}`} x={lx > 2 * middlePx - 56 ? 2 * middlePx - 4 : lx < 56 ? 4 : lx} y={ly + (dy > 0 ? half + 14 : -half - 6)}>{off}</text>}
    </>
  );
}
