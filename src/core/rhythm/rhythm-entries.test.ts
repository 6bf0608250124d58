import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { makeEcgEntry, type EcgNumbers } from './check-entries.ts';
import { findNextEcg } from './find-next-ecg.ts';
import { formatBesideLimit } from './format-rhythm-number.ts';
import { formatNext } from './format-rhythm.ts';
import { judgeRhythm } from './judge-rhythm.ts';
import { computeCorrectedQt, computeHeartRate } from './rhythm-formulas.ts';
import type { EcgEntry } from './rhythm-types.ts';
import { TRAINING_RHYTHM_RULES as RULES } from './training-rhythm-rules.ts';

const STAMP = { by: 'reader', at: '2026-03-02T08:00:00Z' };
const DIGITS = { relative: 0, absolute: 1e-3, from: 'digits of checks.json' };
const make = (numbers: Partial<EcgNumbers>) => makeEcgEntry({ moment: 'post', at: '2026-03-02T10:30:00Z', ...numbers }, STAMP);
function ecg(moment: EcgEntry['moment'], at: string, numbers: Partial<EcgNumbers> = {}): EcgEntry {
  const made = make({ moment, at, rhythm: 'sinus', bundleBlock: 'none', avBlock: 'none', prMs: 180, qrsMs: 90, ...numbers });
  if (!made.ok) throw new Error(made.failure.message);
  return made.value;
}

describe('formulas', () => {
  test('RH-09 QT 420 at RR 0.8 s: Bazett 469.5743, Fridericia 452.4313; not valid as it stands in bundle branch block', () => {
    const plain = computeCorrectedQt(420, 800, { isBundleBlock: false });
    if (!plain.ok) throw new Error(plain.failure.code);
    expectWithin(plain.value.bazettMs, 469.5743, DIGITS);
    expectWithin(plain.value.fridericiaMs, 452.4313, DIGITS);
    expect(plain.value.isValid).toBe(true);
    expect(computeCorrectedQt(420, 800, { isBundleBlock: true })).toMatchObject({ ok: true, value: { isValid: false } });
    expect(computeCorrectedQt(420, 0, { isBundleBlock: false })).toMatchObject({ failure: { code: 'rr-not-positive' } });
    expect(computeCorrectedQt(Number.NaN, 800, { isBundleBlock: false })).toMatchObject({ failure: { code: 'qt-not-positive' } });
  });
  test('RH-10 RR 800 ms is 75 per minute', () => {
    expect(computeHeartRate(800)).toEqual({ ok: true, value: 75 });
    for (const rr of [0, -1, Number.NaN, Infinity]) expect(computeHeartRate(rr)).toMatchObject({ failure: { code: 'rr-not-positive' } });
  });
  test('a number is shown on its own side of the limit', () => {
    expect([formatBesideLimit(119.96, 120), formatBesideLimit(119.6, 120), formatBesideLimit(120, 120), formatBesideLimit(92.2, 120), formatBesideLimit(120.0004, 120)]).toEqual(['119.96', '119.6', '120', '92', '120.0004']);
  });
});

describe('makeEcgEntry', () => {
  test('keeps what was read as entered facts, what was not as null', () => {
    const made = make({ prMs: 180, qrsMs: 92, ratePerMin: 70, halfWidth95Ms: 8, rhythm: 'sinus' });
    if (!made.ok) throw new Error(made.failure.code);
    expect(made.value).toMatchObject({ prMs: { value: 180, low: 172, high: 188, unit: 'ms', status: 'settled', source: { kind: 'entered' } }, qrsMs: { value: 92 }, ratePerMin: { value: 70 }, hvMs: null, bundleBlock: null, avBlock: null });
    expect(make({ prMs: 180 })).toMatchObject({ value: { prMs: { status: 'doubtful', reasons: [{ code: 'ecg-no-band' }] } } });
  });
  test.each([
    [{ at: 'yesterday' }, 'ecg-time-invalid'], [{ at: '2026-03-02' }, 'ecg-time-invalid'], [{ moment: 'h72' as 'h24' }, 'ecg-moment-unknown'],
    [{ prMs: 0.18 }, 'ecg-number-impossible'], [{ qrsMs: -90 }, 'ecg-number-impossible'], [{ ratePerMin: Number.NaN }, 'ecg-number-impossible'], [{ hvMs: 0.07 }, 'ecg-number-impossible'],
    [{ prMs: 400, ratePerMin: 150 }, 'ecg-pr-too-long'], [{ qrsMs: 300, ratePerMin: 210 }, 'ecg-qrs-too-long'],
    [{ prMs: 180, rhythm: 'atrial-fibrillation' }, 'ecg-pr-in-fibrillation'], [{ prMs: 180, avBlock: 'complete' }, 'ecg-pr-in-complete-block'],
  ] as const)('refuses %o as %s', (numbers, code) => {
    expect(make(numbers)).toMatchObject({ ok: false, failure: { code } });
  });
});

describe('findNextEcg', () => {
  const RELEASED = '2026-03-02T10:00:00Z';
  const BASE = ecg('baseline', '2026-03-01T08:00:00Z');
  const POST = ecg('post', '2026-03-02T10:30:00Z');
  const H24 = ecg('h24', '2026-03-03T10:30:00Z');
  const H48 = ecg('h48', '2026-03-04T10:00:00Z');
  const next = (entries: readonly EcgEntry[], now: string) => findNextEcg(entries, RULES, RELEASED, now, judgeRhythm(entries, RULES));

  test('goes from release to 24 and 48 hours, and says when none is left', () => {
    expect(next([BASE], '2026-03-02T10:10:00Z')).toMatchObject({ moment: 'post', state: 'due', remainingS: -600 });
    expect(next([BASE, POST], '2026-03-02T11:00:00Z')).toMatchObject({ moment: 'h24', state: 'not yet due', dueAt: '2026-03-03T10:00:00.000Z', earliestAt: '2026-03-03T04:00:00.000Z', remainingS: 23 * 3600 });
    expect(next([BASE, POST, H24], '2026-03-03T11:00:00Z')).toMatchObject({ moment: 'h48', dueAt: '2026-03-04T10:00:00.000Z' });
    expect(next([BASE, POST, H24, H48], '2026-03-04T11:00:00Z')).toMatchObject({ moment: null, state: 'none planned' });
    expect(next([BASE, POST], '2026-03-02T11:00:00Z').isUnverified).toBe(true);
    expect(formatNext(next([BASE, POST], '2026-03-02T11:00:00Z'))).toBe('Next ECG: 24 hours, not yet due, at 2026-03-03 10:00 UTC. 24 hours: 24 h after release (edition 1; common practice, no source; unverified).');
  });
  test('is due from its earliest to its latest second, overdue one later', () => {
    const at = (now: string): string => next([BASE, POST], now).state;
    expect([at('2026-03-03T03:59:59Z'), at('2026-03-03T04:00:00Z'), at('2026-03-03T16:00:00Z'), at('2026-03-03T16:00:01Z')]).toEqual(['not yet due', 'due', 'due', 'overdue']);
  });
  test('a rule that holds asks for another one', () => {
    const wide = ecg('h48', '2026-03-04T10:00:00Z', { qrsMs: 150, bundleBlock: 'left' });
    expect(next([BASE, POST, H24, wide], '2026-03-04T11:00:00Z')).toMatchObject({ moment: 'extra', dueAt: '2026-03-05T10:00:00.000Z', state: 'not yet due' });
  });
  test('cannot say without rules, a signature, a release, a clock or a schedule', () => {
    const code = (...args: Parameters<typeof findNextEcg>): string | undefined => findNextEcg(...args).reasons[0]?.code;
    const now = '2026-03-02T11:00:00Z';
    expect(code([], null, RELEASED, now)).toBe('rhythm-rules-missing');
    expect(code([], { ...RULES, signedBy: ' ' }, RELEASED, now)).toBe('rhythm-rules-unsigned');
    expect(code([], RULES, null, now)).toBe('release-time-missing');
    expect(code([], RULES, RELEASED, 'now')).toBe('clock-invalid');
    expect(code([], RULES, RELEASED, '2026-03-02T09:00:00Z')).toBe('clock-behind');
    expect(code([], { ...RULES, schedule: [] }, RELEASED, now)).toBe('rhythm-schedule-missing');
  });
});
