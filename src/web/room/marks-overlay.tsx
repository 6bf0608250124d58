import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { drawPath } from '../../formats/report/svg-parts.ts';
import type { FramePoint } from './picture-pose.ts';
import type { PointMean, PointName } from './shot.ts';

const LETTERS: Readonly<Record<PointName, string>> = { cuspN: 'N', cuspR: 'R', cuspL: 'L', inflowA: '1', inflowB: '2', axisA: 'A', axisB: 'A', knownA: 'C', knownB: 'C' };
const CUSP_LINE: Readonly<Partial<Record<PointName, string>>> = { cuspR: 'cusp-R', cuspL: 'cusp-L', cuspN: 'cusp-N' };

function Cased({ d, kind = '' }: { readonly d: string; readonly kind?: string }) {
  return <><path class={`case ${kind}`} d={d} /><path class={`mark ${kind}`} d={d} /></>;
}

/**
 * What is marked, in white with a dark edge: inflow edge solid, axis thin, known size as a measuring line, and the way
 * from the cusp to the edge that is the depth as shown. Every single click is a dot beside its mean.
 */
export function MarksOverlay({ means, current, at, widthPx }: { readonly means: readonly PointMean[]; readonly current: PointName; readonly at: (point: FramePoint) => FramePoint; readonly widthPx: number }) {
  const find = (point: PointName): FramePoint | null => {
    const mean = means.find((m) => m.point === point);
    return mean ? at(mean.at) : null;
  };
  const [a, b, n] = [find('inflowA'), find('inflowB'), find('cuspN')];
  const [axisA, axisB, knownA, knownB] = [find('axisA'), find('axisB'), find('knownA'), find('knownB')];
  const foot = a && b && n ? footOf(n, a, b) : null;
  return (
    <>
      {a && b && <Cased kind="edge-line" d={drawPath([extend(b, a, 12), extend(a, b, 12)])} />}
      {axisA && axisB && <Cased kind="thin" d={drawPath([axisA, axisB])} />}
      {knownA && knownB && <Cased kind="thin" d={drawPath([knownA, knownB])} />}
      {n && foot && <Cased kind="thin cusp-N" d={drawPath([n, foot])} />}
      {means.map((mean) => {
        const away = mean.point === 'cuspN' && n && foot ? awayFrom(foot, n) : mean.point === 'inflowA' && a && b ? awayFrom(b, a) : mean.point === 'inflowB' && a && b ? awayFrom(a, b) : null;
        return <PointShape key={mean.point} mean={mean} away={away ?? ALOOF} isCurrent={mean.point === current} at={at} widthPx={widthPx} />;
      })}
    </>
  );
}

function PointShape({ mean, away, isCurrent, at, widthPx }: { readonly mean: PointMean; readonly away: FramePoint; readonly isCurrent: boolean; readonly at: (point: FramePoint) => FramePoint; readonly widthPx: number }) {
  const [x, y] = at(mean.at);
  const line = CUSP_LINE[mean.point];
  // The letter stands away from what it marks, and inside the picture.
  const [lx, ly] = [Math.max(14, Math.min(widthPx - 14, x + away[0] * 34)), y + away[1] * 34];
  const side = lx > widthPx - 44 ? -1 : 1;
  return (
    <g data-point={mean.point} class={isCurrent ? 'current' : ''}>
      {mean.clicks.length > 1 && mean.clicks.map((click, i) => { const [cx, cy] = at(click); return <circle key={i} class="click" cx={cx} cy={cy} r="1.8" />; })}
      <Cased kind={`thin ${line ?? ''}`} d={drawPath([[x + away[0] * 7, y + away[1] * 7], [lx - away[0] * 10, ly - away[1] * 10]])} />
      <path class="case" d={`M${x - 6} ${y}h12M${x} ${y - 6}v12`} /><path class="mark" d={`M${x - 6} ${y}h12M${x} ${y - 6}v12`} />
      {line ? <circle class="disc" cx={lx} cy={ly} r="11" /> : <rect class="disc" x={lx - 10} y={ly - 10} width="20" height="20" rx="3" />}
      <text class="disc-letter" x={lx} y={ly + 5.5}>{LETTERS[mean.point]}</text>
      {mean.clicks.length > 1 && <text class={`edge ${side > 0 ? '' : 'end'}`} x={lx + side * 14} y={ly + 4}>×{mean.clicks.length}</text>}
      <title>{DEPTH_PAGE_EN[`point-${mean.point}`]}</title>
    </g>
  );
}

/** Where a point alone has its letter. */
const ALOOF: FramePoint = [0.8, -0.6];
/** Unit vector from one point to another; null when they are one. */
function awayFrom(from: FramePoint, to: FramePoint): FramePoint | null {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  return length < 1 ? null : [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
}
/** The point of a line nearest to p. */
function footOf(p: FramePoint, a: FramePoint, b: FramePoint): FramePoint {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length2 = dx * dx + dy * dy;
  if (length2 < 1) return a;
  const t = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2;
  return [a[0] + t * dx, a[1] + t * dy];
}
/** Beyond `to`, seen from `from`, by px. */
function extend(from: FramePoint, to: FramePoint, px: number): FramePoint {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
  return [to[0] + ((to[0] - from[0]) / length) * px, to[1] + ((to[1] - from[1]) / length) * px];
}
