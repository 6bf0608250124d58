import { describe, expect, test } from 'vitest';
import type { TracePoint, TraceRegion } from '../../core/echo/trace-region.ts';
import { kindOf, listMarks, measureTrace, roundEntry, TRACE_TARGETS } from './trace-targets.ts';

const STAMP = { by: 'test', at: '2026-03-02T10:00:00.000Z' };
const box = { left: 0, top: 0, right: 400, bottom: 400 };
const SPECTRUM: TraceRegion = { space: 'spectral', data: 'continuous', box, unitX: 's', unitY: 'cm/s', deltaX: 0.004, deltaY: -2, baselineRow: 50, angleDeg: null, fault: null };
const PLANE: TraceRegion = { ...SPECTRUM, space: '2d', data: 'tissue', unitX: 'cm', unitY: 'cm', deltaX: 0.02, deltaY: 0.02, baselineRow: null };
const NO_CLOCK = { ring: [], jets: [] };
/** A parabola of 2 m/s over 0.3 s: 100 px below the baseline, 75 px wide. */
const ENVELOPE: readonly TracePoint[] = Array.from({ length: 31 }, (_, i) => [100 + (75 * i) / 30, 50 + 100 * (1 - ((i - 15) / 15) ** 2)] as const);

describe('what marks on a picture give', () => {
  test('an envelope gives peak, mean gradient and time integral of what it was traced for', () => {
    const read = measureTrace('valve', ENVELOPE, NO_CLOCK, [SPECTRUM], STAMP);
    if (!read.ok) throw new Error(read.failure.code);
    const values = Object.fromEntries(read.value.map((t) => [t.field, t.fact.value]));
    // Parabola: mean of v^2 is 8/15 of the peak's, integral 2/3 of peak times time; straight pieces take off less than 1 %.
    expect(Math.abs(values['valve-velocity']! - 2)).toBeLessThan(0.01);
    expect(Math.abs(values['valve-mean-gradient']! - (16 * 8) / 15)).toBeLessThan(0.1);
    expect(Math.abs(values['valve-vti']! - 40)).toBeLessThan(0.4);
    expect(measureTrace('outflow', ENVELOPE, NO_CLOCK, [SPECTRUM], STAMP)).toMatchObject({ ok: true, value: [{ field: 'outflow-velocity' }, { field: 'outflow-vti' }] });
  });
  test('two marks give a distance; one, or another kind of region, is refused by name', () => {
    const read = measureTrace('outflow-diameter', [[100, 100], [200, 100]], NO_CLOCK, [PLANE], STAMP);
    expect(read).toMatchObject({ ok: true, value: [{ field: 'outflow-diameter' }] });
    expect(read.ok && read.value[0]!.fact.value).toBeCloseTo(2, 6);
    expect(measureTrace('outflow-diameter', [[100, 100]], NO_CLOCK, [PLANE], STAMP)).toMatchObject({ ok: false, failure: { code: 'trace-unfinished' } });
    expect(measureTrace('valve', ENVELOPE, NO_CLOCK, [PLANE], STAMP)).toMatchObject({ ok: false, failure: { code: 'region-kind' } });
  });
  test('ring and jets give hours and extent: a quarter from 1 to 4 is 25 %', () => {
    const at = (hour: number): TracePoint => [200 + 80 * Math.sin((hour * Math.PI) / 6), 200 - 80 * Math.cos((hour * Math.PI) / 6)];
    const clock = { ring: [1, 4, 7, 10].map(at), jets: [[at(1), at(4)] as const] };
    const read = measureTrace('clock', [], clock, [PLANE], STAMP);
    if (!read.ok) throw new Error(read.failure.code);
    const values = Object.fromEntries(read.value.map((t) => [t.field, roundEntry(t.field, t.fact.value!)]));
    expect(values).toEqual({ circumference: 25, 'jet-1-from': 1, 'jet-1-to': 4 });
    expect(measureTrace('clock', [], { ...clock, jets: [] }, [PLANE], STAMP)).toMatchObject({ ok: false, failure: { code: 'trace-unfinished' } });
    expect(listMarks('clock', [], clock)).toHaveLength(6);
  });
  test('every target has a kind of trace; entries are rounded to a tenth of their fineness', () => {
    expect(TRACE_TARGETS.map(kindOf)).toEqual(['envelope', 'envelope', 'envelope', 'slope', 'distance', 'distance', 'distance', 'clock']);
    expect([roundEntry('valve-velocity', 2.0149), roundEntry('half-time', 371.26), roundEntry('leak-place', 3)]).toEqual([2.01, 371, 3]);
  });
});
