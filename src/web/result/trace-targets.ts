import { ECHO_FIELDS, type EchoFieldCode, type EchoNumberCode } from '../../core/echo/echo-fields.ts';
import { traceClock } from '../../core/echo/trace-clock.ts';
import { traceEnvelope } from '../../core/echo/trace-envelope.ts';
import { traceDistance, traceHalfTime } from '../../core/echo/trace-line.ts';
import type { TracePoint, TraceRegion } from '../../core/echo/trace-region.ts';
import type { EchoTrace } from '../../core/case/result-events.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Fact, FactStamp } from '../../core/units/fact.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';

/** What a person traces, and which entries come of it. */
export const TRACE_TARGETS = ['valve', 'outflow', 'leak', 'half-time', 'outflow-diameter', 'vena-contracta', 'isovelocity-radius', 'clock'] as const;
export type TraceTarget = (typeof TRACE_TARGETS)[number];
export const kindOf = (target: TraceTarget): EchoTrace['is'] => (target === 'clock' ? 'clock' : target === 'half-time' ? 'slope' : target === 'valve' || target === 'outflow' || target === 'leak' ? 'envelope' : 'distance');
export interface TracedField {
  readonly field: EchoNumberCode;
  readonly fact: Fact;
}
/** Ring marks of the clock before those of its jets, so that a stored trace can be read again: two marks each jet, clockwise. */
export interface ClockMarks {
  readonly ring: readonly TracePoint[];
  readonly jets: readonly (readonly [TracePoint, TracePoint])[];
}

/** At most three jets have fields (echo-fields.ts). */
export const MOST_JETS = 3;
const JETS = [['jet-1-from', 'jet-1-to'], ['jet-2-from', 'jet-2-to'], ['jet-3-from', 'jet-3-to']] as const;

/**
 * The entries that marks on a picture give, each with its band; computed in the page, where the marks are set.
 * Fails   as the traces of core/echo; trace-unfinished: fewer marks than it takes
 */
export function measureTrace(target: TraceTarget, points: readonly TracePoint[], clock: ClockMarks, regions: readonly TraceRegion[], stamp: FactStamp): Result<readonly TracedField[], string> {
  const kind = kindOf(target);
  if (kind === 'envelope') {
    const read = traceEnvelope(points, regions, stamp);
    if (!read.ok) return read;
    const { peakVelocity, meanGradient, vti } = read.value;
    if (target === 'outflow') return succeed([{ field: 'outflow-velocity', fact: peakVelocity }, { field: 'outflow-vti', fact: vti }]);
    if (target === 'leak') return succeed([{ field: 'leak-velocity', fact: peakVelocity }, { field: 'leak-vti', fact: vti }]);
    return succeed([{ field: 'valve-velocity', fact: peakVelocity }, { field: 'valve-mean-gradient', fact: meanGradient }, { field: 'valve-vti', fact: vti }]);
  }
  if (kind === 'clock') {
    const read = traceClock(clock.ring, clock.jets, regions, stamp);
    if (!read.ok) return read;
    if (clock.jets.length === 0) return fail('trace-unfinished', RESULT_PAGE_EN.traceNoJet, RESULT_PAGE_EN.traceNoJetNext);
    const { hours, extentPercent } = read.value;
    const atHour = (hour: number): Fact => ({ ...extentPercent, unit: 'h' as Fact['unit'], value: hour, low: hour, high: hour });
    return succeed([{ field: 'circumference', fact: extentPercent }, ...hours.slice(0, MOST_JETS).flatMap(([from, to], i): TracedField[] => [{ field: JETS[i]![0], fact: atHour(from) }, { field: JETS[i]![1], fact: atHour(to) }])]);
  }
  const [first, last] = points;
  if (!first || !last) return fail('trace-unfinished', RESULT_PAGE_EN.traceTwo, RESULT_PAGE_EN.traceTwoNext);
  if (kind === 'slope') {
    const read = traceHalfTime([first, last], regions, stamp);
    return read.ok ? succeed([{ field: 'half-time', fact: read.value.halfTimeMs }]) : read;
  }
  const read = traceDistance([first, last], regions, stamp);
  return read.ok ? succeed([{ field: target as EchoNumberCode, fact: read.value }]) : read;
}

/** A tenth of the usual fineness of an entry: rounding adds nothing that a reader could see. */
export function roundEntry(field: EchoFieldCode, value: number): number {
  const about = ECHO_FIELDS[field];
  if (about.kind !== 'number') return value;
  const digits = Math.max(0, Math.ceil(-Math.log10(about.step / 10)));
  return Number(value.toFixed(digits));
}

/** 95 % half-width that goes with a traced entry: the wider side of its band; null: no band. */
export function readHalfWidth({ value, low, high }: Fact): number | null {
  if (value === null || low === null || high === null) return null;
  const halfWidth = Math.max(value - low, high - value);
  return halfWidth > 0 ? halfWidth : null;
}

/** Marks in the order in which they are stored. */
export const listMarks = (target: TraceTarget, points: readonly TracePoint[], { ring, jets }: ClockMarks): readonly TracePoint[] => (target === 'clock' ? [...ring, ...jets.flat()] : points);
