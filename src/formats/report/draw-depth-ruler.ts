import type { LandingLimit, LandingWindow } from '../../core/deployment/landing-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { formatNumber } from './format-number.ts';
import { formatWindow } from './format-window.ts';
import { drawBox, drawLine, drawPath, drawText, wrapPicture } from './svg-parts.ts';

/** A depth that was read, beside the window: a pin with its interval; the line is broken where the view is not corrected. */
export interface RulerPin {
  readonly depthMm: number;
  readonly lowMm: number;
  readonly highMm: number;
  readonly state: 'uncorrected' | 'corrected';
}

const WIDTH = 720;
const AXIS = 92;
const AIM_LEFT = 112;
const AIM_RIGHT = 268;
const LANES = 300;
const LANE = 50;
const TOP = 46;
const PX_PER_MM = 30;

/**
 * The depth ruler: start, aim and stop beside one lane per limit; an empty window is two opposed brackets with the gap.
 * Shape     SVG text
 * Source    docs/methods/pictures.md
 */
export function drawDepthRuler(landing: LandingWindow, picture: { readonly id: string; readonly isTraining: boolean; readonly pin?: RulerPin | null | undefined }): string {
  const pin = picture.pin ?? null;
  const [from, to] = chooseRange(landing, pin ? [pin.depthMm, pin.lowMm, pin.highMm] : []);
  const bottom = TOP + (to - from) * PX_PER_MM;
  const y = (mm: number): number => TOP + (Math.max(from, Math.min(to, mm)) - from) * PX_PER_MM;
  const parts: string[] = [];
  for (let mm = Math.ceil(from); mm <= to; mm++) {
    parts.push(drawLine(mm === 0 ? 'bold' : 'faint', AXIS, y(mm), mm === 0 ? LANES + LANE * landing.limits.length : AIM_RIGHT, y(mm)));
    parts.push(drawText('end', AXIS - 10, y(mm) + 5, mm === 0 ? LANDING_EN.rulerPlane : mm < 0 ? `${-mm} ${LANDING_EN.rulerAbove}` : String(mm)));
  }
  parts.push(drawText('end', AXIS - 10, bottom + 24, LANDING_EN.rulerDepth));
  parts.push(landing.empty ? drawGap(landing, y) : drawWindow(landing, y));
  if (pin) parts.push(drawPin(pin, y, [from, to]));
  landing.limits.forEach((limit, i) => parts.push(drawLane(limit, i, y, [from, to], picture.id)));
  return wrapPicture({ ...picture, width: WIDTH, height: bottom + 44, title: LANDING_EN.rulerTitle, description: LANDING_EN.rulerDesc }, parts.join(''));
}

function chooseRange({ limits, startMm, stopMm }: LandingWindow, readMm: readonly number[]): readonly [number, number] {
  const all = [0, 8, startMm, stopMm, ...readMm, ...limits.flatMap((l) => [l.lowMm, l.highMm])].filter((v): v is number => v !== null && Number.isFinite(v) && Math.abs(v) < 16);
  return [Math.floor(Math.min(-2, ...all)), Math.ceil(Math.min(14, Math.max(...all) + 1))];
}

type Scale = (mm: number) => number;
const mm = (v: number): string => formatNumber(v, 1);

function drawWindow(landing: LandingWindow, y: Scale): string {
  const { startMm, aimLowMm, aimHighMm, stopMm } = landing;
  const words = formatWindow(landing);
  if (!words) return '';
  const parts: string[] = [];
  if (aimLowMm !== null && aimHighMm !== null) {
    // White as the free part of the lanes: shade means forbidden everywhere on this picture.
    parts.push(drawBox('open', AIM_LEFT, y(aimLowMm), AIM_RIGHT - AIM_LEFT, y(aimHighMm) - y(aimLowMm)));
    // The start's own label may stand in the middle of the band: the aim's is put into the larger free part.
    const start = startMm !== null && startMm > aimLowMm && startMm < aimHighMm ? startMm : null;
    const at = start === null ? (aimLowMm + aimHighMm) / 2 : start - aimLowMm > aimHighMm - start ? (aimLowMm + start) / 2 : (start + aimHighMm) / 2;
    parts.push(drawText('mid', (AIM_LEFT + AIM_RIGHT) / 2, y(at) + 5, `${LANDING_EN.rulerAim} ${words.aimLow}–${words.aimHigh}`));
  }
  if (startMm !== null) {
    parts.push(`<path class="solid" d="${drawPath([[AIM_LEFT - 14, y(startMm) - 8], [AIM_LEFT, y(startMm)], [AIM_LEFT - 14, y(startMm) + 8]], true)}"/>`);
    parts.push(drawText('halo', AIM_LEFT + 6, y(startMm) + 5, `${LANDING_EN.rulerStart} ${words.start}`));
  }
  if (stopMm !== null) {
    parts.push(drawLine('bold', AIM_LEFT, y(stopMm), AIM_RIGHT, y(stopMm)));
    parts.push(drawText('halo end', AIM_RIGHT - 2, y(stopMm) + 19, `${LANDING_EN.rulerStop} ${words.stop}`));
  }
  return parts.join('');
}

/** The two limits that conflict, as brackets that face one another with nothing between. */
function drawGap({ conflict, limits }: LandingWindow, y: Scale): string {
  if (!conflict) return '';
  const low = limits.find((l) => l.code === conflict.low)?.lowMm ?? null;
  const high = limits.find((l) => l.code === conflict.high)?.highMm ?? null;
  const middle = (AIM_LEFT + AIM_RIGHT) / 2;
  if (low === null || high === null || conflict.gapMm === null) return drawText('mid', middle, y(3), LANDING_EN.rulerExcludes);
  const bracket = (at: number, back: number): string => `<path class="bold" d="${drawPath([[AIM_LEFT, y(at) + back], [AIM_LEFT, y(at)], [AIM_RIGHT, y(at)], [AIM_RIGHT, y(at) + back]])}"/>`;
  const text = formatText(LANDING_EN, 'rulerGap', { gap: mm(conflict.gapMm) });
  return bracket(high, -14) + bracket(low, 14) + drawText('mid halo', middle, (y(low) + y(high)) / 2 + 5, text);
}

/** Ends of the interval beyond the scale are left open. */
function drawPin({ depthMm, lowMm, highMm, state }: RulerPin, y: Scale, [from, to]: readonly [number, number]): string {
  const x = (AIM_RIGHT + LANES) / 2;
  const cap = (at: number): string => (at > from && at < to ? drawLine('bold', x - 6, y(at), x + 6, y(at)) : '');
  const line = `<path class="bold${state === 'uncorrected' ? ' broken' : ''}" d="${drawPath([[x, y(lowMm)], [x, y(highMm)]])}"/>`;
  return drawText('mid', x, TOP - 14, LANDING_EN.rulerRead) + line + cap(lowMm) + cap(highMm) +
    `<path class="solid" d="${drawPath([[x - 12, y(depthMm)], [x, y(depthMm) - 7], [x + 12, y(depthMm)], [x, y(depthMm) + 7]], true)}"/>`;
}

/** Bars cover the forbidden depths, so that what stays white in all lanes is the window. */
function drawLane(limit: LandingLimit, i: number, y: Scale, [from, to]: readonly [number, number], id: string): string {
  const bottom = y(to);
  const isShown = (v: number): boolean => v > from && v < to;
  const x = LANES + i * LANE + 10;
  const width = LANE - 20;
  const parts = [drawText('mid', x + width / 2, TOP - 14, String(i + 1)), drawBox('frame', x, TOP, width, bottom - TOP)];
  if (limit.excludesAll) return parts.join('') + drawBox('band', x, TOP, width, bottom - TOP);
  if (!limit.isKnown) return parts.join('') + drawBox('hatchbox', x, TOP, width, bottom - TOP, ` fill="url(#${id}-hatch)"`);
  if (limit.lowMm !== null && limit.lowMm > from) parts.push(drawBox('band', x, TOP, width, y(limit.lowMm) - TOP), drawLine('line', x, y(limit.lowMm), x + width, y(limit.lowMm)));
  if (limit.highMm !== null && limit.highMm < to) parts.push(drawBox('band', x, y(limit.highMm), width, bottom - y(limit.highMm)), drawLine('line', x, y(limit.highMm), x + width, y(limit.highMm)));
  if (limit.intervalMm && limit.atMm !== null && isShown(limit.atMm)) {
    const middle = x + width / 2;
    const [a, b] = limit.intervalMm;
    parts.push(drawPathLine(middle, y(a), y(b)), `<circle class="open" cx="${middle}" cy="${y(limit.atMm).toFixed(2)}" r="3.4"/>`);
  }
  return parts.join('');
}

const drawPathLine = (x: number, a: number, b: number): string =>
  `<path class="rule" d="${drawPath([[x - 4, a], [x + 4, a]])}${drawPath([[x, a], [x, b]])}${drawPath([[x - 4, b], [x + 4, b]])}"/>`;
