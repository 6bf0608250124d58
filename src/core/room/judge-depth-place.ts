import type { DepthPlace, DepthReading } from '../projection/depth-types.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { FrozenDocument, RoomLimits } from './frozen-types.ts';

/** The window that a depth is held against, mm below the basal plane, + toward the ventricle. */
export interface DepthWindow {
  /** `none`: the frozen plan has none for the valve that goes in. */
  readonly state: 'window' | 'empty' | 'incomplete' | 'none';
  readonly lowMm: number | null;
  readonly highMm: number | null;
  /** Limits that are not known and that the team accepted by name at the huddle. */
  readonly accepted?: readonly string[];
}
export type DepthPlaceReason =
  | 'band-inside' | 'band-crosses' | 'band-deeper' | 'band-higher'
  | 'not-read' | 'moved-since' | 'released-since' | 'too-old' | 'no-age' | 'reading-broken' | 'no-band' | 'single-clicks' | 'no-view' | 'window-none' | 'window-empty' | 'window-incomplete';
export interface PlacedDepth {
  readonly place: DepthPlace;
  readonly because: DepthPlaceReason;
}

/**
 * Window of the frozen plan: the landing window of the size that goes in. A stop that the team agreed on at the huddle can
 * only narrow it. A limit that is not known leaves the window incomplete, unless the team accepted that by name when it
 * froze the plan: then it is named beside the window, never passed over.
 */
export function readDepthWindow(frozen: Pick<FrozenDocument, 'plan' | 'huddle' | 'acceptedDoubts'> & { readonly choice: Pick<FrozenDocument['choice'], 'device' | 'size'> }): DepthWindow {
  const { landing } = frozen.plan;
  if (!landing || landing.device !== frozen.choice.device || landing.size !== frozen.choice.size) return { state: 'none', lowMm: null, highMm: null };
  if (landing.empty || landing.aimLowMm === null || landing.aimHighMm === null) return { state: 'empty', lowMm: null, highMm: null };
  const agreed = frozen.huddle['depth.stopMm'];
  const highMm = typeof agreed === 'number' ? Math.min(landing.aimHighMm, agreed) : landing.aimHighMm;
  if (highMm < landing.aimLowMm) return { state: 'empty', lowMm: null, highMm: null };
  const unknown = landing.limits.filter((l) => !l.isKnown).map((l) => l.code);
  const isAccepted = (code: string): boolean => frozen.acceptedDoubts.some((d) => d.section === 'landing' && (d.code === code || d.code === `landing-${code}-unknown`));
  const isWhole = landing.state !== 'incomplete' || (unknown.length > 0 && unknown.every(isAccepted));
  return { state: isWhole ? 'window' : 'incomplete', lowMm: landing.aimLowMm, highMm, ...(isWhole && unknown.length > 0 ? { accepted: unknown } : {}) };
}

/** Fewest clicks on each point, or readings by eye, before a depth may be called inside (job.md, D-rules: one gives +- 2 mm). */
export const LEAST_CLICKS = 2;
/** Half-width that a single reading by eye has at least, mm (same rule); a narrower one is not believed for a yes. */
const SINGLE_READING_MM = 2;

/**
 * Where a depth stands against its window (job.md, D36 and D37). `inside` only when the whole 95 % band lies inside and the
 * reading may say so; a depth without band or view is no depth (E24); in a window with limits missing no depth is inside,
 * but one beyond a known limit is beyond it.
 *
 * Units     mm, + toward the ventricle
 * Equation  inside: low >= window low and high <= window high; deeper: low > window high; higher: high < window low
 * Fails     never: what cannot be said is `cannot say` with its reason
 * Source    docs/methods/room-judgements.md
 */
export function judgeDepthPlace(reading: DepthReading | null, window: DepthWindow): PlacedDepth {
  const cannot = (because: DepthPlaceReason): PlacedDepth => ({ place: 'cannot say', because });
  if (!reading) return cannot('not-read');
  const { depthMm, lowMm, highMm } = reading;
  if (!(lowMm <= depthMm && depthMm <= highMm && Number.isFinite(highMm - lowMm))) return cannot('reading-broken');
  if (!(highMm > lowMm)) return cannot('no-band');
  if (reading.views.length === 0) return cannot('no-view');
  if (window.state === 'none') return cannot('window-none');
  if (window.state === 'empty' || window.lowMm === null || window.highMm === null) return cannot('window-empty');
  if (lowMm > window.highMm) return { place: 'deeper', because: 'band-deeper' };
  if (highMm < window.lowMm) return { place: 'higher', because: 'band-higher' };
  if (!(lowMm >= window.lowMm && highMm <= window.highMm)) return { place: 'straddles', because: 'band-crosses' };
  if (window.state === 'incomplete') return cannot('window-incomplete');
  const isWide = reading.by === 'entered' && highMm - lowMm >= 2 * SINGLE_READING_MM - 1e-9;
  if (!(reading.clicks >= LEAST_CLICKS) && !isWide) return cannot('single-clicks');
  return { place: 'inside', because: 'band-inside' };
}

/** `fresh`, then grey (`old`), then no answer (`gone`); `not known` where no signed rule says how long a depth holds. */
export interface DepthAge {
  readonly state: 'fresh' | 'old' | 'gone' | 'not known';
  /** Whole seconds are for the eye; decisions use this. */
  readonly ageS: number | null;
}

/** Age of a live value at `nowMs` (server time, ms since 1970). A time ahead of now by clock error counts as now. */
export function judgeDepthAge(at: string, nowMs: number, limits: Pick<RoomLimits, 'depthOldS' | 'depthGoneS'>): DepthAge {
  const readMs = readInstantMs(at);
  if (!Number.isFinite(readMs) || !Number.isFinite(nowMs)) return { state: 'not known', ageS: null };
  const ageS = Math.max(0, (nowMs - readMs) / 1000);
  const isPast = (rule: RoomLimits['depthOldS']): boolean => rule !== null && (rule.strict ? ageS >= rule.value : ageS > rule.value);
  if (isPast(limits.depthGoneS)) return { state: 'gone', ageS };
  if (isPast(limits.depthOldS)) return { state: 'old', ageS };
  return { state: limits.depthOldS && limits.depthGoneS ? 'fresh' : 'not known', ageS };
}

/** Whether a depth no longer tells where the frame stands: too old, or read before it moved or was let go. */
export const isDepthOver = ({ because }: PlacedDepth): boolean => because === 'too-old' || because === 'moved-since' || because === 'released-since';

/** Place of a live depth now: past its limit it is no answer any more (E16), nor after the frame moved or was let go. */
export function judgeLiveDepth(depth: { readonly reading: DepthReading; readonly at: string; readonly before?: 'moved' | 'released' } | null, window: DepthWindow, nowMs: number, limits: Pick<RoomLimits, 'depthOldS' | 'depthGoneS'>): PlacedDepth & { readonly age: DepthAge | null } {
  if (!depth) return { place: 'cannot say', because: 'not-read', age: null };
  const age = judgeDepthAge(depth.at, nowMs, limits);
  if (depth.before) return { place: 'cannot say', because: `${depth.before}-since`, age };
  if (age.state === 'gone') return { place: 'cannot say', because: 'too-old', age };
  if (age.ageS === null) return { place: 'cannot say', because: 'no-age', age };
  return { ...judgeDepthPlace(depth.reading, window), age };
}
