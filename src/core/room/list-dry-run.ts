import type { HuddleBranch } from '../case/case-events.ts';
import type { Plan } from '../case/plan-types.ts';
import { nameLandingLimit } from '../deployment/find-landing.ts';
import { nameView } from '../projection/camera-view.ts';
import { WORLDS, type ReleaseForecast, type ReleaseVerdict, type StartForecast, type WhatIfCode, type WorldForecast } from '../release/release-types.ts';
import { formatText } from '../text/catalogue.ts';
import { DRY_RUN_EN } from '../text/dry-run-en.ts';
import { FREEZE_EN } from '../text/freeze-en.ts';
import { RELEASE_EN } from '../text/release-en.ts';
import { WHAT_IF_EN } from '../text/what-if-en.ts';
import { nameKit } from './list-blockers.ts';
import type { KitItem } from './list-kit.ts';
import type { Chosen } from './read-chosen.ts';
import { readRoomLimits } from './read-room-limits.ts';

/** What a rehearsal of one case stands on: what was chosen, its forecast, and what the huddle has said so far. */
export interface Rehearsal {
  readonly plan: Plan;
  readonly chosen: Chosen;
  /** Of exactly this choice; null: there is none. */
  readonly forecast: ReleaseForecast | null;
  readonly kit: readonly KitItem[];
  readonly read: (id: string) => string | number | boolean | undefined;
}
export type DryRunStepId = 'start' | 'pacing' | 'pull' | 'release';
export const DRY_RUN_STEPS: readonly DryRunStepId[] = ['start', 'pacing', 'pull', 'release'];
export interface DryRunStep {
  readonly id: DryRunStepId;
  readonly say: readonly string[];
  /** What must be so before anyone goes on. */
  readonly watch: readonly string[];
}

const mm1 = (v: number): string => v.toFixed(1).replace('-', '\u2212');
const whole = (v: number): string => String(Math.round(v) + 0).replace('-', '\u2212');
export const sayVerdict = (v: ReleaseVerdict): string => (v === 'cannot say' ? DRY_RUN_EN.cannotSay : RELEASE_EN[`verdict-${v}`]);
/** The forecast for the start that the team takes; null where it was not made. */
export const findStart = (forecast: ReleaseForecast | null): StartForecast | null => forecast?.sweep.find((s) => s.startMm === forecast.startMm) ?? null;

/**
 * The release in four steps, in the words the team says aloud: a direction with a band, never a percentage of risk.
 * Shape     pure; always four steps, in the order of the room
 * Fails     never: what is not known is said to be not known
 */
export function listDryRunSteps(r: Rehearsal): readonly DryRunStep[] {
  return [listStart(r), listPacing(r), listPull(r), listRelease(r)];
}

function listStart({ chosen: { choice, landing }, plan, read }: Rehearsal): DryRunStep {
  const role = read('views.first');
  const view = plan.views?.chosen.find((v) => v.role === role);
  const shown = view?.reach ? view : view?.instead;
  const aim = read('depth.aimMm');
  return {
    id: 'start',
    say: [
      ...(choice ? [formatText(DRY_RUN_EN, choice.startMm < 0 ? 'startAbove' : 'startAt', { mm: mm1(Math.abs(choice.startMm)) })] : [DRY_RUN_EN.noChoice]),
      // An angle that the C-arm does not reach is not offered (job.md, D25).
      view && shown ? formatText(DRY_RUN_EN, 'startView', { view: nameView(shown), role: FREEZE_EN[`choice-${view.role}` as keyof typeof FREEZE_EN] ?? view.role }) : role === undefined ? DRY_RUN_EN.startNoRole : DRY_RUN_EN.startNoView,
      ...sayWindow(landing),
      ...(typeof aim === 'number' ? [formatText(DRY_RUN_EN, 'aim', { mm: mm1(aim) })] : []),
    ],
    watch: [DRY_RUN_EN.watchStart],
  };
}
function sayWindow(landing: Chosen['landing']): readonly string[] {
  if (!landing) return [DRY_RUN_EN.windowNone];
  if (landing.empty || landing.aimLowMm === null || landing.aimHighMm === null || landing.stopMm === null) return [DRY_RUN_EN.windowEmpty];
  const window = formatText(DRY_RUN_EN, 'window', { low: mm1(landing.aimLowMm), high: mm1(landing.aimHighMm), stop: mm1(landing.stopMm) });
  return landing.state === 'incomplete' ? [window, DRY_RUN_EN.windowIncomplete] : [window];
}

function listPacing({ chosen: { choice }, forecast, read }: Rehearsal): DryRunStep {
  const route = read('pacing.route');
  const bpm = choice ? whole(choice.paceBpm) : '?';
  const who = read('pacing.by');
  return {
    id: 'pacing',
    say: [
      route === 'none' ? formatText(DRY_RUN_EN, 'paceNone', { bpm }) : typeof route === 'string' ? formatText(DRY_RUN_EN, 'pace', { bpm, route: FREEZE_EN[`choice-${route}` as keyof typeof FREEZE_EN] ?? route }) : formatText(DRY_RUN_EN, 'paceNoRoute', { bpm }),
      ...(typeof who === 'string' ? [formatText(DRY_RUN_EN, 'paceBy', { who })] : []),
      ...sayChanges(forecast, ['pace-80', 'pace-180']),
    ],
    watch: [DRY_RUN_EN.watchPacing],
  };
}

function listPull({ chosen: { choice, device }, forecast, read }: Rehearsal): DryRunStep {
  const middle = findStart(forecast)?.worlds.middle ?? null;
  const [decides, when] = [read('team.decides'), read('stop.when')];
  return {
    id: 'pull',
    say: [
      sayRecapture(device.kind, forecast),
      ...(choice ? [formatText(DRY_RUN_EN, 'pullTension', { tension: WHAT_IF_EN[`tension-${choice.tension}`] })] : []),
      ...(middle ? [sayMovement(middle)] : []),
      ...sayChanges(forecast, ['tension-pulling', 'tension-pushing']),
    ],
    watch: [formatText(DRY_RUN_EN, 'watchPull', { who: typeof decides === 'string' ? decides : DRY_RUN_EN.whoNobody }), ...(typeof when === 'string' ? [formatText(DRY_RUN_EN, 'stopWhen', { when })] : [])],
  };
}
function sayRecapture(kind: Chosen['device']['kind'], forecast: ReleaseForecast | null): string {
  if (kind === 'balloon-expandable') return DRY_RUN_EN.pullBalloon;
  const back = forecast?.recapture ?? null;
  return back ? formatText(DRY_RUN_EN, 'pullBack', { ratio: back.unsheathedRatio.toFixed(2), mm: whole(back.uncoveredMm) }) : DRY_RUN_EN.pullUnknown;
}
function sayMovement({ movementMm: { low, high }, leaves }: WorldForecast): string {
  if (low === null || high === null || leaves.low !== 'none' || leaves.high !== 'none') return DRY_RUN_EN.pullLeaves;
  const side = high < 0.5 && low > -0.5 ? DRY_RUN_EN.noWay : low >= 0 ? DRY_RUN_EN.towardAorta : high <= 0 ? DRY_RUN_EN.towardVentricle : DRY_RUN_EN.bothWays;
  const [a, b] = low >= 0 || high <= 0 ? [Math.abs(low), Math.abs(high)].sort((x, y) => x - y) : [low, high];
  return formatText(DRY_RUN_EN, 'pullMoves', { low: whole(a!), high: whole(b!), side });
}

function listRelease({ forecast, plan }: Rehearsal): DryRunStep {
  const here = findStart(forecast);
  const margin = here?.worlds.middle.holdingMarginN;
  const wait = readRoomLimits(plan.rules ?? null).expansionWaitS;
  return {
    id: 'release',
    say: here ? [
      ...WORLDS.map((w) => {
        const [world, depth, { answer }] = [RELEASE_EN[`world-${w}`], sayEnd(here.worlds[w]), here.worlds[w]];
        return answer === 'cannot say' ? formatText(DRY_RUN_EN, 'endsCannot', { world, depth }) : formatText(DRY_RUN_EN, 'ends', { world, verdict: sayVerdict(answer), depth });
      }),
      ...(margin && margin.value !== null && margin.low !== null && margin.high !== null ? [formatText(DRY_RUN_EN, 'holding', { mid: whole(margin.value), low: whole(margin.low), high: whole(margin.high) })] : []),
    ] : [DRY_RUN_EN.noForecast],
    watch: [wait ? formatText(DRY_RUN_EN, 'watchExpand', { s: whole(wait.value) }) : DRY_RUN_EN.watchExpandUnknown, DRY_RUN_EN.watchRelease],
  };
}
function sayEnd({ finalDepthMm: { value, low, high }, leaves }: WorldForecast): string {
  if (leaves.low !== 'none' || leaves.high !== 'none') return DRY_RUN_EN.endsOut;
  return value === null || low === null || high === null ? DRY_RUN_EN.endsUnknown : formatText(DRY_RUN_EN, 'endsBand', { low: whole(low), high: whole(high) });
}

/** What the forecast says of single changes, middle world; those it was not asked for are left out. */
function sayChanges(forecast: ReleaseForecast | null, codes: readonly WhatIfCode[]): readonly string[] {
  return codes.flatMap((code) => {
    const found = forecast?.whatIfs?.find((w) => w.code === code)?.worlds.middle;
    if (!found) return [];
    const what = RELEASE_EN[`what-${code}`];
    if (!found.isVisible) return [formatText(DRY_RUN_EN, 'changeNone', { what })];
    const signed = (v: number): string => `${v > 0.05 ? '+' : ''}${mm1(v)}`;
    return [formatText(DRY_RUN_EN, 'changeVisible', { what, mid: signed(found.changeMm.mid), low: signed(found.changeMm.low), high: signed(found.changeMm.high) })];
  });
}

/** What plan and huddle hold for one branch, and what lies ready for it. */
export function listBranchFacts(branch: HuddleBranch, r: Rehearsal): readonly string[] {
  const { chosen: { landing, size, device }, forecast, kit, plan, read } = r;
  const whereOf = (slot: KitItem['slot']): string => {
    const item = kit.find((k) => k.slot === slot);
    return item?.isReady === true && item.place !== null ? item.place : DRY_RUN_EN.whereUnknown;
  };
  const spare = kit.find((k) => k.slot === 'spare');
  const waysOut = [
    ...(spare ? [formatText(DRY_RUN_EN, 'second', { name: nameKit(spare), where: whereOf('spare') })] : []), formatText(DRY_RUN_EN, 'snare', { where: whereOf('snare') }),
  ];
  if (branch === 'leaks') {
    const wait = readRoomLimits(plan.rules ?? null).expansionWaitS;
    const gaps = forecast?.expectedFrame?.gaps ?? null;
    return [
      ...(wait && device.kind === 'self-expanding' ? [formatText(DRY_RUN_EN, 'leakWait', { s: whole(wait.value) })] : []),
      gaps === null ? DRY_RUN_EN.leakUnknown : gaps.length === 0 ? DRY_RUN_EN.leakNoGaps : formatText(DRY_RUN_EN, 'leakGaps', { list: gaps.map((g) => formatText(DRY_RUN_EN, 'leakGap', { cusp: g.cusp, mm: mm1(g.gapMm) })).join('; ') }),
      formatText(DRY_RUN_EN, 'leakBalloon', { mm: whole(size.balloonMaxMm) }), DRY_RUN_EN.leakWitnesses, ...waysOut.slice(0, 1),
    ];
  }
  const here = findStart(forecast)?.worlds;
  const worlds = here ? [formatText(DRY_RUN_EN, 'upWorlds', { gripping: sayVerdict(here.gripping.answer), middle: sayVerdict(here.middle.answer), slippery: sayVerdict(here.slippery.answer) })] : [DRY_RUN_EN.noForecast];
  const back = device.kind === 'self-expanding' && forecast?.recapture ? [formatText(DRY_RUN_EN, 'closedAfter', { ratio: forecast.recapture.unsheathedRatio.toFixed(2) })] : [sayRecapture(device.kind, forecast)];
  if (branch === 'moved-up') return [...worlds, ...back, ...sayChanges(forecast, ['start-deeper', 'pace-180']), ...waysOut];
  const binding = (landing?.limits ?? []).filter((l) => l.code !== 'device-window' && l.highMm !== null && landing?.stopMm != null && l.highMm <= landing.stopMm + 1).map((l) => nameLandingLimit(l.code));
  const surgery = read('rescue.surgery');
  return [
    ...worlds, ...back, ...(binding.length > 0 ? [formatText(DRY_RUN_EN, 'downLimits', { list: binding.join(', ') })] : []), ...sayChanges(forecast, ['start-shallower']), ...waysOut,
    formatText(DRY_RUN_EN, 'drain', { where: whereOf('drain') }),
    typeof surgery === 'string' ? formatText(DRY_RUN_EN, 'surgery', { what: FREEZE_EN[`choice-${surgery}` as keyof typeof FREEZE_EN] ?? surgery }) : DRY_RUN_EN.surgeryUnknown,
  ];
}
