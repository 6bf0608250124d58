import type { LandingWindow } from '../../core/deployment/landing-types.ts';
import type { Device } from '../../core/device/device-types.ts';
import { WORLDS, type ReleaseForecast, type WorldForecast } from '../../core/release/release-types.ts';
import { DRY_RUN_STEPS, findStart, type DryRunStepId } from '../../core/room/list-dry-run.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DRY_RUN_EN } from '../../core/text/dry-run-en.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { formatNumber } from './format-number.ts';
import { drawArrow, drawBox, drawLine, drawPath, drawText, wrapPicture } from './svg-parts.ts';

export interface DryRunPicture {
  readonly id: string;
  readonly isTraining: boolean;
  /** The step that is spoken of: it and those before it are drawn. */
  readonly step: DryRunStepId;
  readonly startMm: number | null;
  readonly paceBpm: number | null;
  readonly landing: LandingWindow | null;
  readonly kind: Device['kind'];
  readonly forecast: ReleaseForecast | null;
}

const WIDTH = 720;
const TOP = 40;
const PX_PER_MM = 22;
const AXIS = 64;
const WINDOW = { left: 78, right: 196 };
const COLUMNS: Readonly<Record<DryRunStepId, readonly [number, number]>> = { start: [196, 250], pacing: [262, 330], pull: [342, 452], release: [464, 716] };

/**
 * The rehearsal on one depth scale: window, start, pacing, pull, and where the frame ends in each friction world.
 * Shape     SVG text
 * Units     mm below the basal plane, + down the picture
 * Source    docs/methods/freeze.md
 */
export function drawDryRun(p: DryRunPicture): string {
  const [from, to] = chooseRange(p);
  const bottom = TOP + (to - from) * PX_PER_MM;
  const y = (mm: number): number => TOP + (Math.max(from, Math.min(to, mm)) - from) * PX_PER_MM;
  const last = DRY_RUN_STEPS.indexOf(p.step);
  const isShown = (step: DryRunStepId): boolean => DRY_RUN_STEPS.indexOf(step) <= last;
  const parts: string[] = [];
  for (let mm = Math.ceil(from); mm <= to; mm++) {
    parts.push(drawLine(mm === 0 ? 'bold' : 'faint', AXIS + 8, y(mm), WIDTH - 4, y(mm)));
    if (mm % 2 === 0) parts.push(drawText('end', AXIS, y(mm) + 5, mm === 0 ? DRY_RUN_EN.plane : formatNumber(mm, 0)));
  }
  parts.push(drawText('end soft', AXIS, bottom + 20, DRY_RUN_EN.pictureDepth));
  parts.push(drawWindow(p.landing, y, p.id));
  for (const step of DRY_RUN_STEPS) {
    const [left, right] = COLUMNS[step];
    parts.push(drawText(step === p.step ? 'mid' : 'mid soft', (left + right) / 2, 16, DRY_RUN_EN[`step-${step}`]));
    if (step === p.step) parts.push(drawLine('bold', left, 23, right, 23));
    if (isShown(step)) parts.push(drawStep(step, p, y, bottom));
  }
  return wrapPicture({ id: p.id, isTraining: p.isTraining, width: WIDTH, height: bottom + 46, title: DRY_RUN_EN.pictureTitle, description: DRY_RUN_EN.pictureDesc }, parts.join(''));
}

type Scale = (mm: number) => number;

function chooseRange({ startMm, landing, forecast }: DryRunPicture): readonly [number, number] {
  const ends = WORLDS.flatMap((w) => {
    const depth = findStart(forecast)?.worlds[w].finalDepthMm;
    return [depth?.low, depth?.high];
  });
  const all = [0, 8, startMm, landing?.stopMm, landing?.aimLowMm, landing?.aimHighMm, ...ends].filter((v): v is number => v !== null && v !== undefined && Number.isFinite(v));
  return [Math.max(-8, Math.floor(Math.min(-2, ...all)) - 1), Math.min(16, Math.ceil(Math.max(...all)) + 1)];
}

function drawWindow(landing: LandingWindow | null, y: Scale, id: string): string {
  const { left, right } = WINDOW;
  const middle = (left + right) / 2;
  if (!landing || landing.empty || landing.aimLowMm === null || landing.aimHighMm === null || landing.stopMm === null) {
    return drawBox('hatchbox', left, y(0), right - left, y(6) - y(0), ` fill="url(#${id}-hatch)"`) + drawText('mid halo', middle, y(3) + 5, DRY_RUN_EN.pictureEmpty);
  }
  return drawBox('open', left, y(landing.aimLowMm), right - left, y(landing.aimHighMm) - y(landing.aimLowMm)) +
    drawLine('bold', left, y(landing.stopMm), right, y(landing.stopMm)) + drawText('end halo', right - 4, y(Math.max(landing.stopMm, landing.aimHighMm)) + 18, formatText(DRY_RUN_EN, 'pictureStop', { mm: formatNumber(landing.stopMm, 1) }));
}

function drawStep(step: DryRunStepId, p: DryRunPicture, y: Scale, bottom: number): string {
  const [left, right] = COLUMNS[step];
  const middle = (left + right) / 2;
  const start = p.startMm;
  if (start === null) return '';
  const edge = (x1: number, x2: number): string => drawLine('bold', x1, y(start), x2, y(start));
  if (step === 'start') {
    return `<path class="solid" d="${drawPath([[left - 2, y(start)], [left + 12, y(start) - 8], [left + 12, y(start) + 8]], true)}"/>` + edge(left + 12, right) +
      drawText('halo', WINDOW.left + 6, y(start) - 6, formatText(DRY_RUN_EN, 'pictureStart', { mm: formatNumber(start, 1) }));
  }
  if (step === 'pacing') {
    const beats = Array.from({ length: 5 }, (_, i) => { const x = left + 8 + i * 12; return drawPath([[x - 4, y(start)], [x - 2, y(start)], [x, y(start) - 12], [x + 2, y(start) + 5], [x + 4, y(start)]]); });
    return `<path class="line" d="${beats.join('')}"/>` + (p.paceBpm === null ? '' : drawText('mid halo', middle, y(start) + 24, `${formatNumber(p.paceBpm, 0)} /min`));
  }
  if (step === 'pull') return drawPull(p, start, y, left, right);
  const here = findStart(p.forecast);
  if (!here) return drawBox('hatchbox', left, TOP, right - left, bottom - TOP, ` fill="url(#${p.id}-hatch)"`) + drawText('mid halo', middle, (TOP + bottom) / 2, DRY_RUN_EN.cannotSay);
  const width = (right - left) / WORLDS.length;
  return WORLDS.map((w, k) => drawWorld(here.worlds[w], left + k * width, width, y, [TOP, bottom], p.id) + drawText('mid', left + (k + 0.5) * width, bottom + 18, RELEASE_EN[`world-${w}`])).join('');
}

/** The frame comes out of the catheter from left to right; past the mark there is no way back. */
function drawPull({ kind, forecast }: DryRunPicture, start: number, y: Scale, left: number, right: number): string {
  const base = y(start);
  const bar = drawBox('frame', left, base - 5, right - left, 10);
  const middle = (left + right) / 2;
  if (kind === 'balloon-expandable') return bar + drawText('mid halo', middle, base + 26, DRY_RUN_EN.pictureNoBack);
  const ratio = forecast?.recapture?.unsheathedRatio ?? null;
  if (ratio === null) return bar + drawText('mid halo', middle, base + 26, DRY_RUN_EN.pictureBackUnknown);
  const x = left + ratio * (right - left);
  return drawBox('band', left, base - 5, x - left, 10) + bar + drawLine('bold', x, base - 14, x, base + 14) +
    drawText('halo', left, base + 28, DRY_RUN_EN.pictureBack) + drawText('end halo', right, base - 18, `${DRY_RUN_EN.pictureNotBack} ${formatNumber(ratio, 2)}`);
}

function drawWorld({ finalDepthMm: { value, low, high }, leaves, answer }: WorldForecast, left: number, width: number, y: Scale, [top, bottom]: readonly [number, number], id: string): string {
  const [a, b, middle] = [left + 10, left + width - 10, left + width / 2];
  const parts = [drawBox('frame', a, top, b - a, bottom - top)];
  // Up the picture is toward the aorta: the end that leaves upward is the shallow one.
  const up = leaves.high === 'up' || leaves.low === 'up';
  const down = leaves.low === 'down' || leaves.high === 'down';
  const [shallow, deep] = [up ? top : low === null ? null : y(low), down ? bottom : high === null ? null : y(high)];
  if (shallow !== null && deep !== null) parts.push(drawBox('band', a, shallow, b - a, deep - shallow));
  if (value !== null) parts.push(drawLine('bold', a, y(value), b, y(value)));
  if (up) parts.push(drawArrow(middle, top + 26, top + 6));
  if (down) parts.push(drawArrow(middle, bottom - 26, bottom - 6));
  if (answer === 'cannot say' || (value === null && shallow === null && deep === null)) parts.push(drawBox('hatchbox', a, top, b - a, bottom - top, ` fill="url(#${id}-hatch)"`));
  return parts.join('');
}
