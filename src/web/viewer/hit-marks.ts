import type { CutPoint } from '../../core/root/cut-types.ts';

/** Something in a view that can be taken hold of; px from the top left corner of the view. */
export interface Grip<Name extends string = string> {
  readonly name: Name;
  readonly atPx: CutPoint;
}
/** A finger or a pointer this near takes hold; 24 px across is the least of WCAG 2.5.8. */
export const GRIP_REACH_PX = 16;

/** The nearest grip within reach; of equally near ones the later, which is drawn on top. */
export function findGrip<Name extends string>(grips: readonly Grip<Name>[], atPx: CutPoint, reachPx = GRIP_REACH_PX): Grip<Name> | null {
  let best: Grip<Name> | null = null;
  let bestPx = reachPx;
  for (const grip of grips) {
    const px = Math.hypot(grip.atPx[0] - atPx[0], grip.atPx[1] - atPx[1]);
    if (px <= bestPx) {
      best = grip;
      bestPx = px;
    }
  }
  return best;
}

const STEPS: ReadonlyMap<string, CutPoint> = new Map([['ArrowLeft', [-1, 0]], ['ArrowRight', [1, 0]], ['ArrowUp', [0, -1]], ['ArrowDown', [0, 1]]]);
export const FINE_STEP_MM = 0.25;
export const COARSE_STEP_MM = 1;
export interface KeyStep {
  /** mm right and down in the view. */
  readonly moved: CutPoint;
  /** mm toward the viewer. */
  readonly offMm: number;
}

/** What a key does to the mark in hand; null for a key that moves nothing. */
export function readKeyStep(key: string, isShift: boolean): KeyStep | null {
  const step = isShift ? COARSE_STEP_MM : FINE_STEP_MM;
  const way = STEPS.get(key);
  if (way) return { moved: [way[0] * step, way[1] * step], offMm: 0 };
  if (key === 'PageUp') return { moved: [0, 0], offMm: step };
  if (key === 'PageDown') return { moved: [0, 0], offMm: -step };
  return null;
}
