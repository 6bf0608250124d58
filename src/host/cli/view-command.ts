import { isCameraView, nameView } from '../../core/projection/camera-view.ts';
import { describeView, type ViewDescription } from '../../core/projection/describe-view.ts';
import { findPerpendicularSecondary } from '../../core/projection/perpendicular-curve.ts';
import { fail, type Failure } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { VIEW_EN } from '../../core/text/view-en.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { readPlan } from './read-plan.ts';
import { reportFailure } from './report-failure.ts';

export interface ViewOptions {
  readonly path: string;
  readonly primary: number;
  readonly secondary: number;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** `trinadir view PLAN --primary DEG --secondary DEG`: what that camera angle shows and hides. */
export async function runViewCommand(options: ViewOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>, code: number): number => {
    reportFailure(failure, 'view', { json: options.json === true }, io);
    return code;
  };
  const view = { primaryDeg: options.primary, secondaryDeg: options.secondary };
  if (!isCameraView(view)) return stop(fail('view-out-of-range', VIEW_EN.outOfRange, VIEW_EN.outOfRangeNext).failure, EXIT.usage);
  const plan = await readPlan(options.path);
  if (!plan.ok) return stop(plan.failure, EXIT.refused);
  const { root, views, training } = plan.value;
  if (!root) return stop(fail('plan-without-root', VIEW_EN.noRoot, VIEW_EN.noRootNext).failure, EXIT.refused);
  if (views && !views.offered) {
    const reason = views.reasons[0];
    return stop(fail(reason?.code ?? 'posture-not-stated', reason?.text ?? VIEW_EN.withheld, reason?.next ?? VIEW_EN.withheldNext).failure, EXIT.refused);
  }
  const seen = describeView(view, root.basalPlane);
  const onEdgeDeg = findPerpendicularSecondary(root.basalPlane.normalLps, view.primaryDeg);
  if (options.json) io.out(`${JSON.stringify(makeAnswer(seen, root.basalPlane.tiltUncertaintyDeg, onEdgeDeg, training))}\n`);
  else io.out(formatAnswer(seen, root.basalPlane.tiltUncertaintyDeg, onEdgeDeg, training));
  return EXIT.answered;
}

/** Four digits, as in plan.json. */
const round = (v: number): number => Math.round(v * 1e4) / 1e4 + 0;

function makeAnswer(s: ViewDescription, tilt95Deg: number, onEdgeDeg: number | null, training: boolean): object {
  const off = Math.abs(s.error.offPlaneDeg);
  const fact = (value: number, low: number, high: number, unit: string) => ({ value: round(value), unit, low: round(low), high: round(high), status: 'settled', source: { kind: 'computed', method: 'view/1', from: ['root.basalPlane'] }, reasons: [] });
  return {
    format: 'trinadir.view/1', training, ...s.view,
    tiltToPlaneDeg: fact(off, Math.max(0, off - tilt95Deg), Math.min(90, off + tilt95Deg), 'deg'),
    depthErrorPerMmRadius: fact(s.error.depthPerRadius, s.error.depthPerRadiusLow, s.error.depthPerRadiusHigh, '1'),
    visibleShare: fact(s.error.visibleShare, Math.cos((Math.min(90, off + tilt95Deg) * Math.PI) / 180), Math.cos((Math.max(0, off - tilt95Deg) * Math.PI) / 180), '1'),
    nearestTube: s.nearestTube, lowest: s.lowest, order: s.order, gapsMm: s.gapsMm.map(round), covered: s.covered,
    onEdgeSecondaryDeg: onEdgeDeg === null ? null : round(onEdgeDeg),
    caution: HOUSE_EN.caution,
  };
}

function formatAnswer(s: ViewDescription, tilt95Deg: number, onEdgeDeg: number | null, training: boolean): string {
  const off = Math.abs(s.error.offPlaneDeg);
  const lines = [
    ...(training ? [`(${HOUSE_EN.training})`] : []),
    formatText(VIEW_EN, 'answer', { view: nameView(s.view), off: off.toFixed(1), low: Math.max(0, off - tilt95Deg).toFixed(1), high: Math.min(90, off + tilt95Deg).toFixed(1) }),
    formatText(VIEW_EN, 'error', { mm: (10 * s.error.depthPerRadius).toFixed(1), low: (10 * s.error.depthPerRadiusLow).toFixed(1), high: (10 * s.error.depthPerRadiusHigh).toFixed(1) }),
    formatText(VIEW_EN, 'shortening', { percent: (100 * (1 - s.error.visibleShare)).toFixed(1) }),
    formatText(VIEW_EN, 'cusps', { order: s.order.join(', '), a: s.gapsMm[0].toFixed(1), b: s.gapsMm[1].toFixed(1), lowest: s.lowest, nearest: s.nearestTube }),
    s.covered ? formatText(VIEW_EN, 'covered', { a: s.covered[0], b: s.covered[1] }) : VIEW_EN.apart,
    ...(onEdgeDeg === null ? [] : [formatText(VIEW_EN, 'onEdge', { view: nameView({ primaryDeg: s.view.primaryDeg, secondaryDeg: onEdgeDeg }) })]),
    HOUSE_EN.caution,
  ];
  return `${lines.join('\n')}\n`;
}
