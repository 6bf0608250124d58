import type { FrozenDocument } from './frozen-types.ts';
import { findRule } from '../device/training-table.ts';
import { listDirections } from '../release/judge-verdict.ts';
import { WORLDS, type ReleaseForecast, type StartForecast } from '../release/release-types.ts';
import { formatText } from '../text/catalogue.ts';
import { BOARD_EN } from '../text/board-en.ts';
import { RELEASE_EN } from '../text/release-en.ts';
import type { Fact } from '../units/fact.ts';
import type { Evidence } from './cause-types.ts';
import type { Attempt, RoomState } from './room-state.ts';
import type { RoomEntry, RoomEntryKind } from './room-types.ts';
import { makeTimeOf } from './stand-records.ts';

/** What the evidence is read from: one movement, the plan it happened under and the room's log. */
export interface MovedCase {
  readonly frozen: FrozenDocument;
  readonly room: RoomState;
  readonly attempt: Attempt;
  readonly direction: 'up' | 'down' | 'unknown';
  /** When it moved. */
  readonly at: string;
}

/** Without the sign of a zero that rounding left. */
const plain = (text: string): string => (Number(text) === 0 ? text.replace('-', '') : text);
const mm = (v: number): string => plain(v.toFixed(1));
const evidence = (side: Evidence['side'], from: Evidence['from'], at: string | null, text: string, isClear = false): Evidence => ({ side, text, at, from, isClear });
interface Span { readonly value: number; readonly low: number; readonly high: number; readonly at: string }
const spanOf = (fact: Fact | null | undefined): Span | null => (fact && fact.value !== null && fact.low !== null && fact.high !== null ? { value: fact.value, low: fact.low, high: fact.high, at: fact.source.at } : null);
const band = (s: Span): { readonly mm: string; readonly low: string; readonly high: string } => ({ mm: mm(s.value), low: mm(s.low), high: mm(s.high) });
/** The start as it was read: its band if it has one. */
function readStart(attempt: Attempt): (Span & { readonly at: string }) | null {
  if (!attempt.start) return null;
  const { reading, at } = attempt.start;
  return { value: reading.depthMm, low: reading.lowMm, high: reading.highMm, at };
}
/** Newest standing entry of a kind, not later than the movement. */
export function findBefore<K extends RoomEntryKind>(room: RoomState, is: K, at: string): { readonly entry: Extract<RoomEntry, { is: K }>; readonly at: string } | null {
  let found: { readonly entry: Extract<RoomEntry, { is: K }>; readonly at: string } | null = null;
  const timeOf = makeTimeOf(room.records);
  for (const r of room.records) {
    if (r.standing !== 'current' || r.entry?.is !== is) continue;
    const saidAt = timeOf(r); // corrected after the movement, it was so before it all the same
    if (saidAt <= at && (found === null || saidAt >= found.at)) found = { entry: r.entry as Extract<RoomEntry, { is: K }>, at: saidAt };
  }
  return found;
}

/** Planned against read start; an upward movement asks whether it was too high, a downward one whether it was too deep. */
export function weighStartHeight(c: MovedCase): readonly Evidence[] {
  const planned = c.frozen.choice.startMm;
  const start = readStart(c.attempt);
  if (!start) return [evidence('not known', 'log', null, formatText(BOARD_EN, 'startUnread', { planned: mm(planned) }))];
  const said = { read: mm(start.value), low: mm(start.low), high: mm(start.high), planned: mm(planned) };
  const isAbove = start.high < planned;
  const isBelow = start.low > planned;
  const out: Evidence[] = [];
  if (c.direction === 'unknown') out.push(evidence('not known', 'log', c.at, BOARD_EN.directionOpen));
  if (!isAbove && !isBelow) {
    const off = Math.abs(start.value - planned);
    // A start on its place speaks against; one that is off by less than its own band leaves it open.
    if (off < NEAR_MM) out.push(evidence('against', 'depth', start.at, formatText(BOARD_EN, 'startAsPlanned', said)));
    else {
      const leans = c.direction === 'up' ? start.value < planned : c.direction === 'down' ? start.value > planned : null;
      const text = formatText(BOARD_EN, 'startNear', { ...said, off: mm(off) });
      out.push(evidence(leans === false ? 'against' : 'not known', 'depth', start.at, text));
    }
  } else if (c.direction === 'unknown') out.push(evidence('not known', 'depth', start.at, formatText(BOARD_EN, isAbove ? 'startShallow' : 'startDeep', said)));
  else {
    const isWith = c.direction === 'up' ? isAbove : isBelow;
    out.push(evidence(isWith ? 'for' : 'against', 'depth', start.at, isWith ? formatText(BOARD_EN, isAbove ? 'startShallow' : 'startDeep', said) : formatText(BOARD_EN, 'startFarther', { ...said, side: isAbove ? BOARD_EN.above : BOARD_EN.below }), true));
  }
  return [...out, ...weighTipping(c, start), ...weighForecast(c, start, planned)];
}
/** Nearer than this a start is where it was planned: the table's whole millimetres. */
const NEAR_MM = 0.5;

function weighTipping(c: MovedCase, start: Span): readonly Evidence[] {
  const tip = spanOf(c.frozen.plan.release?.tippingDepthMm);
  if (!tip) return [];
  const said = { tip: mm(tip.value), tipLow: mm(tip.low), tipHigh: mm(tip.high) };
  const pushes = start.high < tip.low ? 'up' : start.low > tip.high ? 'down' : null;
  if (pushes === null || c.direction === 'unknown') return [evidence('not known', 'forecast', tip.at, formatText(BOARD_EN, 'tipOpen', said))];
  return [evidence(pushes === c.direction ? 'for' : 'against', 'forecast', tip.at, formatText(BOARD_EN, pushes === 'up' ? 'tipShallow' : 'tipDeep', said))];
}

/** The forecast of the start that is nearest to a depth; null: none within half a step of the sweep. */
export function findStartForecast(release: ReleaseForecast | undefined, startMm: number): StartForecast | null {
  const nearest = release?.sweep.reduce<StartForecast | null>((best, s) => (best === null || Math.abs(s.startMm - startMm) < Math.abs(best.startMm - startMm) ? s : best), null) ?? null;
  return nearest && Math.abs(nearest.startMm - startMm) <= SWEEP_HALF_MM ? nearest : null;
}
const SWEEP_HALF_MM = 0.75;
export const sayVerdict = (verdict: StartForecast['worlds']['middle']['answer']): string => (verdict === 'cannot say' ? RELEASE_EN.cannotSay : RELEASE_EN[`verdict-${verdict}`]);

function weighForecast(c: MovedCase, start: Span, plannedMm: number): readonly Evidence[] {
  const { release, madeAt } = c.frozen.plan;
  const read = findStartForecast(release, start.value);
  if (!read) return [evidence('not known', 'forecast', madeAt, BOARD_EN.forecastNone)];
  const { gripping, middle, slippery } = read.worlds;
  const said = formatText(BOARD_EN, 'startForecast', { mm: mm(read.startMm), gripping: sayVerdict(gripping.answer), middle: sayVerdict(middle.answer), slippery: sayVerdict(slippery.answer) });
  if (c.direction === 'unknown') return [evidence('not known', 'forecast', madeAt, said)];
  const way = c.direction;
  const foresees = (s: StartForecast | null): boolean => s !== null && WORLDS.some((w) => listDirections(s.worlds[w].answer)[way]);
  const planned = findStartForecast(release, plannedMm);
  // Only a difference between the two starts speaks of the start; what is foreseen from both is another cause's.
  if (foresees(read) && planned !== null && planned.startMm !== read.startMm && !foresees(planned)) return [evidence('for', 'forecast', madeAt, `${said} ${formatText(BOARD_EN, 'startForecastPlanned', { mm: mm(plannedMm) })}`)];
  return [evidence('not known', 'forecast', madeAt, said)];
}

/**
 * A single obstacle makes an unstable place this much deeper than its own centre: shallower starts are pushed up, deeper
 * ones down. Measured on the model's closed-form roots (docs/methods/release.md).
 */
const TIP_BELOW_MM = [2.4, 3.7] as const;
function weighObstacle(c: MovedCase, centre: { readonly low: number; readonly high: number }): { readonly side: Evidence['side']; readonly text: string } {
  const start = readStart(c.attempt);
  if (!start || c.direction === 'unknown') return { side: 'not known', text: BOARD_EN.obstacleOpen };
  const pushes = start.high < centre.low + TIP_BELOW_MM[0] ? 'up' : start.low > centre.high + TIP_BELOW_MM[1] ? 'down' : null;
  if (pushes === null) return { side: 'not known', text: BOARD_EN.obstacleOpen };
  if (pushes !== c.direction) return { side: 'against', text: BOARD_EN.obstacleAgainst };
  return { side: 'for', text: formatText(BOARD_EN, 'obstacleWith', { side: pushes === 'up' ? BOARD_EN.above : BOARD_EN.below }) };
}

export function weighBulge(c: MovedCase): readonly Evidence[] {
  const septum = c.frozen.plan.root?.septum;
  const bulge = spanOf(septum?.bulgeMm);
  const height = spanOf(septum?.bulgeHeightMm);
  if (!bulge || !height) return [evidence('not known', 'plan', null, BOARD_EN.bulgeUnknown)];
  const rule = findRule(c.frozen.plan.rules ?? null, 'septal-bulge');
  if (!rule) return [evidence('not known', 'plan', bulge.at, formatText(BOARD_EN, 'bulgeNoRule', band(bulge)))];
  const reaches = (v: number): boolean => (rule.strict ? v > rule.value : v >= rule.value);
  if (!reaches(bulge.high)) return [evidence('against', 'plan', bulge.at, formatText(BOARD_EN, 'bulgeNot', { ...band(bulge), rule: mm(rule.value) }), true)];
  if (!reaches(bulge.low)) return [evidence('not known', 'plan', bulge.at, formatText(BOARD_EN, 'bulgeMaybe', { ...band(bulge), rule: mm(rule.value) }))];
  const push = weighObstacle(c, { low: -height.high, high: -height.low });
  return [evidence(push.side, 'plan', bulge.at, `${formatText(BOARD_EN, 'bulgeIs', { ...band(bulge), depth: mm(-height.value) })} ${push.text} ${BOARD_EN.evidenceMixed}`)];
}

/** Steeper than the least friction of any world: only then can the wall push a frame by its slope alone (release.md). */
const LEAST_FRICTION = 0.05;
const LEAST_TAPER_REACH_MM = 5;
const MOST_TAPER_REACH_MM = 10;
export function weighTaper(c: MovedCase): readonly Evidence[] {
  const levels = (c.frozen.plan.root?.levels ?? []).flatMap((l) => {
    const p = spanOf(l.perimeterMm);
    return p ? [{ heightMm: l.heightMm, radius: p.value / TURN, sd: (p.high - p.low) / 2 / TURN, at: p.at }] : [];
  });
  const top = nearest(levels, 0);
  const deep = nearest(levels, -MOST_TAPER_REACH_MM);
  const reach = top && deep ? top.heightMm - deep.heightMm : 0;
  if (!top || !deep || Math.abs(top.heightMm) > 1 || reach < LEAST_TAPER_REACH_MM) return [evidence('not known', 'plan', null, BOARD_EN.taperUnknown)];
  const slope = (top.radius - deep.radius) / reach;
  const half = Math.hypot(top.sd, deep.sd) / reach;
  const said = { slope: Math.abs(slope).toFixed(2), low: (slope >= 0 ? slope - half : -slope - half).toFixed(2), high: (slope >= 0 ? slope + half : -slope + half).toFixed(2) };
  const pushes = slope - half > 0 ? 'up' : slope + half < 0 ? 'down' : null;
  if (pushes === null) return [evidence('not known', 'plan', top.at, formatText(BOARD_EN, 'taperFlat', { slope: plain(slope.toFixed(2)), low: plain((slope - half).toFixed(2)), high: plain((slope + half).toFixed(2)) }))];
  const text = formatText(BOARD_EN, pushes === 'up' ? 'taperNarrow' : 'taperWide', said);
  if (c.direction === 'unknown') return [evidence('not known', 'plan', top.at, `${text} ${BOARD_EN.directionOpen}`)];
  if (pushes !== c.direction) return [evidence('against', 'plan', top.at, text, true)];
  const isFeeble = Math.abs(slope) < LEAST_FRICTION;
  return [evidence(isFeeble ? 'not known' : 'for', 'plan', top.at, isFeeble ? `${text} ${BOARD_EN.taperFeeble}` : text, !isFeeble)];
}
const TURN = 2 * Math.PI;
function nearest<T extends { readonly heightMm: number }>(levels: readonly T[], heightMm: number): T | null {
  return levels.reduce<T | null>((best, l) => (best === null || Math.abs(l.heightMm - heightMm) < Math.abs(best.heightMm - heightMm) ? l : best), null);
}

export function weighWire(c: MovedCase): readonly Evidence[] {
  const out: Evidence[] = [];
  const wire = findBefore(c.room, 'wire', c.at);
  if (wire && wire.at >= c.attempt.beganAt) out.push(evidence('for', 'log', wire.at, formatText(BOARD_EN, 'wireMoved', { did: BOARD_EN[`wire-${wire.entry.did}`] })));
  const side = wire?.entry.side ?? null;
  if (side === 'centre') out.push(evidence('against', 'log', wire!.at, BOARD_EN.wireCentre));
  else if (side !== null) out.push(evidence('for', 'log', wire!.at, formatText(BOARD_EN, 'wireSide', { side })));
  else out.push(evidence('not known', 'log', wire?.at ?? null, BOARD_EN.wireUnknown));
  const logged = findBefore(c.room, 'tension', c.at);
  const tension = c.attempt.tension ?? logged?.entry.tension ?? null;
  if (tension === null || tension === 'unknown') return [...out, evidence('not known', 'log', logged?.at ?? null, BOARD_EN.tensionUnknown)];
  const at = logged?.at ?? c.attempt.beganAt;
  if (tension === 'neutral') return [...out, evidence('against', 'log', at, BOARD_EN.tensionNeutral)];
  const pushes = tension === 'pulling' ? 'up' : 'down';
  const word = BOARD_EN[`tension-${tension}`];
  if (c.direction === 'unknown') return [...out, evidence('not known', 'log', at, formatText(BOARD_EN, 'tensionWith', { tension: word }))];
  return [...out, pushes === c.direction ? evidence('for', 'log', at, formatText(BOARD_EN, 'tensionWith', { tension: word }), true) : evidence('against', 'log', at, formatText(BOARD_EN, 'tensionAgainst', { tension: word }), true)];
}

export function weighPacing(c: MovedCase): readonly Evidence[] {
  const planned = c.frozen.choice.paceBpm;
  const isPlanned = planned > LEAST_PACING_BPM;
  const logged = findBefore(c.room, 'pacing', c.at);
  const pressure = findBefore(c.room, 'pressure', c.at);
  const out: Evidence[] = [];
  if (c.attempt.wasPaced === null) out.push(evidence('not known', 'log', null, BOARD_EN.pacingUnknown));
  else if (!c.attempt.wasPaced) {
    const text = isPlanned ? formatText(BOARD_EN, 'pacingNone', { planned }) : BOARD_EN.pacingNoneUnplanned;
    // What was never planned was not missed.
    out.push(c.direction === 'down' ? evidence('against', 'log', logged?.at ?? null, `${text} ${BOARD_EN.pacingDown}`) : evidence('for', 'log', logged?.at ?? null, text, isPlanned));
  } else {
    const on = logged?.entry.isOn ? logged : findBefore(c.room, 'pacing', c.attempt.endedAt ?? c.at);
    const rate = on?.entry.isOn ? on.entry.ratePerMin : null;
    if (rate === null) out.push(evidence('not known', 'log', on?.at ?? null, formatText(BOARD_EN, 'pacingRateUnknown', { planned })));
    else if (rate < planned) out.push(evidence(c.direction === 'down' ? 'against' : 'for', 'log', on!.at, formatText(BOARD_EN, 'pacingSlow', { rate, planned })));
    else out.push(evidence('against', 'log', on!.at, formatText(BOARD_EN, 'pacingYes', { rate }), true));
  }
  if (pressure && pressure.at >= c.attempt.beganAt) out.push(evidence('not known', 'log', pressure.at, formatText(BOARD_EN, 'pressureSeen', { systolic: pressure.entry.systolicMmHg, diastolic: pressure.entry.diastolicMmHg })));
  return out;
}
/** The model knows no pacing at or below this rate (release.md): a heart of its own. */
const LEAST_PACING_BPM = 80;

/** Deposits between these depths of their centre meet the inflow part of the frame; beyond, the rule of TIP_BELOW_MM was not measured. */
const BLOCK_DEPTH_MM = [-2, 12] as const;
/** Stands into the lumen by at least this much: the model's radius spread of the ring (release.md). */
const BLOCK_MM = 1;
const UNEVEN = 2;
export function weighCalcium(c: MovedCase): readonly Evidence[] {
  const calcium = c.frozen.plan.root?.calcium;
  if (!calcium) return [evidence('not known', 'plan', null, BOARD_EN.calciumUnknown)];
  const { at } = calcium.volumeMm3.source;
  const blocks = calcium.deposits.filter((d) => d.protrusionMm >= BLOCK_MM && -d.heightMm >= BLOCK_DEPTH_MM[0] && -d.heightMm <= BLOCK_DEPTH_MM[1]);
  const out: Evidence[] = [];
  if (blocks.length === 0) out.push(evidence('against', 'plan', at, formatText(BOARD_EN, 'calciumNone', { mm: mm(BLOCK_MM) })));
  else {
    const block = blocks.reduce((a, b) => (b.protrusionMm > a.protrusionMm ? b : a));
    const depth = -block.heightMm;
    const push = weighObstacle(c, { low: depth, high: depth });
    const place = formatText(BOARD_EN, depth >= 0 ? 'calciumDeep' : 'calciumHigh', { mm: mm(Math.abs(depth)) });
    out.push(evidence(push.side, 'plan', at, `${formatText(BOARD_EN, 'calciumBlock', { cusp: block.cusp, volume: block.volumeMm3.toFixed(0), protrusion: mm(block.protrusionMm), place })} ${push.text}`));
  }
  const volumes = (['R', 'L', 'N'] as const).map((cusp) => ({ cusp, span: spanOf(calcium.byCuspMm3[cusp]) }));
  const known = volumes.flatMap((v) => (v.span ? [{ cusp: v.cusp, ...v.span }] : []));
  // Evenness of next to nothing says nothing: what counts is the size from which a deposit binds by the signed rules.
  const rule = findRule(c.frozen.plan.rules ?? null, 'outflow-deposit');
  if (known.length < 3 || !rule) return out;
  const most = known.reduce((a, b) => (b.value > a.value ? b : a));
  const others = known.filter((v) => v !== most);
  const rest = others.reduce((s, v) => s + v.value, 0) / others.length;
  const restHigh = others.reduce((s, v) => s + v.high, 0) / others.length;
  if (most.low < rule.value) return out;
  if (most.low > UNEVEN * restHigh) out.push(evidence('for', 'plan', at, formatText(BOARD_EN, 'calciumUneven', { cusp: most.cusp, most: most.value.toFixed(0), rest: rest.toFixed(0) })));
  else if (most.high < UNEVEN * rest) out.push(evidence('against', 'plan', at, BOARD_EN.calciumEven));
  return out;
}

export function weighSize(c: MovedCase): readonly Evidence[] {
  const size = c.frozen.device.sizes.find((s) => s.label === c.frozen.choice.size);
  const ring = spanOf(c.frozen.plan.root?.basalRing.perimeterMm);
  if (!size || !ring) return [evidence('not known', 'plan', null, BOARD_EN.sizeUnknown)];
  const [from, to] = size.basalPerimeterMm;
  const said = { ...band(ring), from: mm(from), to: mm(to), size: size.label };
  const out: Evidence[] = [];
  if (ring.low > to) out.push(evidence('for', 'plan', ring.at, formatText(BOARD_EN, 'sizeOver', said), true));
  else if (ring.high > to) out.push(evidence('not known', 'plan', ring.at, formatText(BOARD_EN, 'sizeMaybe', said)));
  else out.push(evidence('against', 'plan', ring.at, formatText(BOARD_EN, 'sizeFits', said), true));
  const start = readStart(c.attempt)?.value ?? c.frozen.choice.startMm;
  const margin = spanOf(findStartForecast(c.frozen.plan.release, start)?.worlds.middle.holdingMarginN);
  if (margin && margin.low <= 0) out.push(evidence(margin.value <= 0 ? 'for' : 'not known', 'forecast', margin.at, formatText(BOARD_EN, 'sizeMargin', { mid: margin.value.toFixed(0), low: margin.low.toFixed(0), high: margin.high.toFixed(0) })));
  return out;
}
