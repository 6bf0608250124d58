import { CUSPS, type Cusp } from '../root/root-types.ts';
import { doArcsMeet, SITE_TOLERANCE_DEG } from '../verdict/compare-leak-sites.ts';
import { coverCircle } from './cover-circle.ts';
import type { EchoEntries } from './echo-fields.ts';
import type { CommissureAzimuths, EchoJet } from './echo-types.ts';
import { around, type Reading } from './propagate-error.ts';

export const JET_NUMBERS = [1, 2, 3] as const;
export type JetNumber = (typeof JET_NUMBERS)[number];
const DEG_PER_HOUR = 30;
/** Three equal cusps about the R nadir at 0 [A]; the CT's own commissures replace them. */
export const EVEN_COMMISSURES: CommissureAzimuths = { rightLeft: 60, leftNon: 180, nonRight: 300 };
/** How far a span between two landmarks may be from that of the map: cusps from 60 to 180 degrees wide are all taken [A]. */
const SPAN_TOLERANCE_DEG = 60;

const turn = (deg: number): number => ((deg % 360) + 360) % 360;

export type ClockState = 'placed' | 'no landmark' | 'no order';
export interface PlacedJets {
  readonly jets: readonly (EchoJet & { readonly number: JetNumber })[];
  /** `no landmark`: also where one landmark leaves both ways round open. */
  readonly clock: ClockState;
  /** Of the whole round, from the clock alone; null: no jet has both ends. */
  readonly extentPercent: Reading | null;
  readonly incomplete: readonly JetNumber[];
  /** Entered cusp and the cusps that the arc touches. */
  readonly misplaced: readonly { readonly number: JetNumber; readonly cusp: Cusp; readonly others: readonly Cusp[] }[];
}

/**
 * Jets from the clock of the short axis onto the unrolled map. Azimuth rises R, L, N; on the clock that is clockwise where the
 * heart is seen from the ventricle and counter-clockwise where it is seen from the aorta: the reader says which cusp follows R, or two
 * landmarks show it. Between landmarks hours are stretched evenly.
 *
 * Frame    azimuth of the unrolled map: 0 at the R nadir, counter-clockwise seen from the aorta; hours clockwise on the picture
 * Units    hours in, degrees out; arcs run upward in azimuth and may pass 0
 * Fails    never; `clock` says why jets are known by cusp only
 * Source   docs/methods/echo.md
 */
export function placeJets(entries: EchoEntries, commissures: CommissureAzimuths | null): PlacedJets {
  const at = commissures ?? EVEN_COMMISSURES;
  const clock = readClock(entries, at);
  const jets: (EchoJet & { number: JetNumber })[] = [];
  const incomplete: JetNumber[] = [];
  const misplaced: { number: JetNumber; cusp: Cusp; others: readonly Cusp[] }[] = [];
  const arcs: (readonly [fromDeg: number, lengthDeg: number])[] = [];
  const ends: string[] = [];
  for (const number of JET_NUMBERS) {
    const [fromHour, toHour, cusp] = [entries[`jet-${number}-from`] ?? null, entries[`jet-${number}-to`] ?? null, entries[`jet-${number}-cusp`] ?? null];
    if (fromHour === null && toHour === null && cusp === null) continue;
    if ((fromHour === null) !== (toHour === null)) incomplete.push(number);
    const isWhole = fromHour !== null && toHour !== null;
    if (isWhole) {
      arcs.push([fromHour * DEG_PER_HOUR, lengthDeg(fromHour, toHour)]);
      ends.push(`jet-${number}-from`, `jet-${number}-to`);
    }
    const arcDeg = isWhole && typeof clock === 'object' ? arcOf(clock, fromHour, toHour) : null;
    const touched = arcDeg === null ? [] : CUSPS.filter((c) => doArcsMeet(sectorOf(c, at), arcDeg, SITE_TOLERANCE_DEG));
    if (cusp !== null && arcDeg !== null && !touched.includes(cusp)) misplaced.push({ number, cusp, others: touched });
    jets.push({ number, fromHour, toHour, cusp: cusp ?? (arcDeg === null ? null : findCusp(arcDeg, at)), arcDeg });
  }
  return { jets, clock: typeof clock === 'object' ? 'placed' : clock, extentPercent: measureExtent(arcs, ends), incomplete, misplaced };
}

function lengthDeg(fromHour: number, toHour: number): number {
  return fromHour === 0 && toHour === 12 ? 360 : turn((toHour - fromHour) * DEG_PER_HOUR);
}

/** Union of arcs over the round; each end may be half an hour off. */
function measureExtent(arcs: readonly (readonly [fromDeg: number, lengthDeg: number])[], from: readonly string[]): Reading | null {
  if (arcs.length === 0) return null;
  const half = 0.5 * DEG_PER_HOUR * Math.sqrt(2 * arcs.length);
  const percent = around((100 * coverCircle(arcs, 360)) / 360, (100 * half) / 360, from, 0);
  return { ...percent, high: Math.min(100, percent.high) };
}

interface Clock {
  /** Azimuth of an hour. */
  readonly azimuthOf: (hour: number) => number;
  readonly rises: boolean;
}

function arcOf(clock: Clock, fromHour: number, toHour: number): readonly [number, number] {
  const [first, last] = clock.rises ? [fromHour, toHour] : [toHour, fromHour];
  const from = clock.azimuthOf(first);
  const length = lengthDeg(fromHour, toHour);
  return length === 360 ? [from, from + 360] : [from, clock.azimuthOf(last)];
}

function readClock(entries: EchoEntries, at: CommissureAzimuths): Clock | 'no landmark' | 'no order' {
  const marks = ([[0, entries['clock-r']], [at.rightLeft, entries['clock-r-l']], [at.leftNon, entries['clock-l-n']], [at.nonRight, entries['clock-n-r']]] as const)
    .flatMap(([azimuth, hour]) => (typeof hour === 'number' ? [{ azimuth: turn(azimuth), hour }] : []))
    .sort((a, b) => a.azimuth - b.azimuth);
  if (marks.length === 0) return 'no landmark';
  const next = entries['clock-next'] ?? null;
  const ways = ([true, false] as const).filter((rises) => (next === null || (next === 'L') === rises) && isInOrder(marks, rises));
  if (ways.length === 0) return 'no order';
  if (ways.length > 1) return 'no landmark';
  const rises = ways[0]!;
  return { rises, azimuthOf: (hour) => interpolate(marks, rises, hour) };
}

interface Mark {
  readonly azimuth: number;
  readonly hour: number;
}
const clockDeg = (hour: number, rises: boolean): number => turn((rises ? 1 : -1) * hour * DEG_PER_HOUR);
/** Turn from one to the next on a circle; of a landmark to itself the whole round. */
const span = (from: number, to: number): number => turn(to - from) || 360;

function isInOrder(marks: readonly Mark[], rises: boolean): boolean {
  if (marks.length === 1) return true;
  return marks.every((mark, i) => {
    const next = marks[(i + 1) % marks.length]!;
    const onClock = turn(clockDeg(next.hour, rises) - clockDeg(mark.hour, rises));
    return onClock > 0 && Math.abs(onClock - span(mark.azimuth, next.azimuth)) <= SPAN_TOLERANCE_DEG;
  });
}

function interpolate(marks: readonly Mark[], rises: boolean, hour: number): number {
  const deg = clockDeg(hour, rises);
  for (const [i, mark] of marks.entries()) {
    const next = marks[(i + 1) % marks.length]!;
    const whole = span(clockDeg(mark.hour, rises), clockDeg(next.hour, rises));
    const part = turn(deg - clockDeg(mark.hour, rises));
    if (part < whole) return turn(mark.azimuth + (part / whole) * span(mark.azimuth, next.azimuth));
  }
  return turn(marks[0]!.azimuth);
}

function sectorOf(cusp: Cusp, at: CommissureAzimuths): readonly [number, number] {
  return cusp === 'R' ? [at.nonRight, at.rightLeft] : cusp === 'L' ? [at.rightLeft, at.leftNon] : [at.leftNon, at.nonRight];
}

/** The cusp under the middle of an arc. */
function findCusp(arcDeg: readonly [number, number], at: CommissureAzimuths): Cusp {
  const middle = turn(arcDeg[0] + (arcDeg[1] - arcDeg[0] >= 360 ? 180 : turn(arcDeg[1] - arcDeg[0]) / 2));
  return CUSPS.find((c) => doArcsMeet(sectorOf(c, at), [middle, middle], 0)) ?? 'R';
}
