import { fail, succeed, type Result } from '../result.ts';
import { MOST_SPREAD_SD } from './depth-limits.ts';
import type { Clicks, PicturePoint } from './depth-types.ts';

export interface AveragedPoint {
  readonly meanPx: PicturePoint;
  readonly clicks: number;
  /** SD of the mean per axis. */
  readonly sdPx: number;
  /** Greatest distance of a click from the mean along a column or a row, in SD of one click. */
  readonly spreadSd: number;
  /** Sum of squared distances from the mean, px2: 2 (clicks - 1) degrees of freedom. */
  readonly scatterPx2: number;
}

/**
 * Mean of repeated clicks on one point.
 *
 * Equation  mean of n clicks has SD s / sqrt n; refused when a click lies more than 3 s from it, along a column or a row (s is per axis)
 * Fails     mark-not-finite, clicks-spread
 * Source    job.md, D36; docs/methods/depth.md
 */
export function averageClicks(name: string, clicks: Clicks, clickSdPx: number): Result<AveragedPoint, 'mark-not-finite' | 'clicks-spread'> {
  const n = clicks.length;
  let [column, row] = [0, 0];
  for (const [c, r] of clicks) {
    column += c / n;
    row += r / n;
  }
  if (!Number.isFinite(column) || !Number.isFinite(row)) {
    return fail('mark-not-finite', `A click on ${name} is not a number.`, 'Mark that point again.', { point: name });
  }
  let farthest = 0;
  let scatterPx2 = 0;
  for (const [c, r] of clicks) {
    scatterPx2 += (c - column) ** 2 + (r - row) ** 2;
    farthest = Math.max(farthest, Math.abs(c - column), Math.abs(r - row));
  }
  const spreadSd = farthest / clickSdPx;
  if (!(spreadSd <= MOST_SPREAD_SD)) {
    return fail('clicks-spread', `The clicks on ${name} lie up to ${spreadSd.toFixed(1)} times the click noise from their mean; at most ${MOST_SPREAD_SD} is taken.`,
      'Mark that point again, or state a larger click noise.', { point: name, spreadSd: Math.round(spreadSd * 100) / 100, clicks: n });
  }
  return succeed({ meanPx: [column, row], clicks: n, sdPx: clickSdPx / Math.sqrt(n), spreadSd, scatterPx2 });
}
