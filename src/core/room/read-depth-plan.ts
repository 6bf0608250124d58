import type { Plan } from '../case/plan-types.ts';
import type { DepthPlan } from '../projection/depth-types.ts';
import { findFrameAxis } from '../projection/frame-axis.ts';
import type { Xyz } from '../root/root-types.ts';
import type { FrozenDocument } from './frozen-types.ts';

/**
 * What a depth is measured against, out of the frozen plan.
 * Frame     LPS
 * Fails     null: the frozen plan has no measured root
 */
export function readDepthPlan({ plan, device, choice }: Pick<FrozenDocument, 'plan' | 'device' | 'choice'>): DepthPlan | null {
  return makeDepthPlan(plan, device.sizes.find((s) => s.label === choice.size)?.frame?.inflowMm ?? null);
}

/**
 * The same out of a plan that nobody has frozen; `frameInflowMm` is of the size that goes in, null where none is known.
 * Fails     null: no measured root
 */
export function makeDepthPlan({ root, views }: Pick<Plan, 'root' | 'views'>, frameInflowMm: number | null): DepthPlan | null {
  if (!root) return null;
  return { basalPlane: root.basalPlane, frameAxisLps: views?.frameAxis?.directionLps ?? findFrameAxis(root), ringCentreLps: meanOf(root.basalRing.contourLps), frameInflowMm };
}

/** The ring's points lie evenly along it. */
function meanOf(points: readonly Xyz[]): Xyz | null {
  if (points.length < 3) return null;
  const sum = points.reduce<[number, number, number]>((s, p) => [s[0] + p[0], s[1] + p[1], s[2] + p[2]], [0, 0, 0]);
  return [sum[0] / points.length, sum[1] / points.length, sum[2] / points.length];
}
