import { isDepthOver } from '../../core/room/judge-depth-place.ts';
import type { WallDepth, WallWindow } from '../../core/room/wall-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { formatNumber } from './format-number.ts';
import { formatDepthMm, roundWindow } from './format-wall.ts';
import type { RulerWords } from './wall-sheet.ts';

/** Depths further from the plane than this are drawn at the end of the ruler; their number stands beside it. */
const MOST_MM = 20;
const SLACK = 1e-9;

/**
 * The ruler of the wall: plane, start, aim, stop and the newest depth with its band. A depth that is too old is not drawn.
 * Units     mm below the basal plane, + toward the ventricle
 */
export function drawRulerWords(w: WallWindow, depth: WallDepth | null): RulerWords {
  const read = depth && !isDepthOver(depth) && depth.age.ageS !== null ? depth : null;
  const { gap } = w;
  const aim = w.aimLowMm !== null && w.aimHighMm !== null ? ([w.aimLowMm, w.aimHighMm] as const) : null;
  const all = [0, 5, w.startMm, ...(aim ?? []), w.stopMm, gap?.mostMm ?? null, gap?.leastMm ?? null, read?.reading.lowMm ?? null, read?.reading.highMm ?? null].filter((v): v is number => v !== null && Number.isFinite(v));
  const clamp = (v: number): number => Math.max(-MOST_MM, Math.min(MOST_MM, v));
  return {
    fromMm: Math.floor(clamp(Math.min(...all)) - 0.5), toMm: Math.ceil(clamp(Math.max(...all)) + 0.5), aim, stopMm: w.stopMm, gap: gap && [clamp(gap.mostMm), clamp(gap.leastMm)],
    now: read && { mm: clamp(read.reading.depthMm), lowMm: clamp(read.reading.lowMm), highMm: clamp(read.reading.highMm), isOld: read.age.state === 'old' },
    marks: [
      { is: 'plane', mm: 0, text: T.rulerPlane },
      ...(w.startMm === null ? [] : [{ is: 'start' as const, mm: w.startMm, text: formatText(T, 'rulerStart', { mm: formatDepthMm(Math.round(w.startMm * 10) / 10) }) }]),
      ...(aim ? [{ is: 'aim' as const, mm: (aim[0] + aim[1]) / 2, text: formatText(T, 'rulerAim', roundWindow(aim[0], aim[1])) }]
        : [{ is: 'empty' as const, mm: gap ? (clamp(gap.mostMm) + clamp(gap.leastMm)) / 2 : 2.5, text: w.state === 'none' ? T.rulerNone : gap === null ? T.rulerEmpty : formatText(T, 'rulerGap', { mm: formatNumber(gap.leastMm - gap.mostMm, 1) }) }]),
      ...(w.stopMm === null ? [] : [{ is: 'stop' as const, mm: w.stopMm, text: formatText(T, 'rulerStop', { mm: formatDepthMm(Math.floor(w.stopMm * 10 + SLACK) / 10) }) }]),
    ],
  };
}
