import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { makeTestRoot, type TestRoot } from '../../../test/support/make-survey.ts';
import type { DeviceSize, PatientFacts, RuleSet } from '../device/device-types.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../device/training-table.ts';
import { findLanding } from './find-landing.ts';
import { measureFreeRadius } from './free-frame.ts';

const DEVICE = TRAINING_TABLE.devices[0]!;
const SIZE = DEVICE.sizes[1]!; // aim 1 to 5, start 3, stop 6
const PATIENT: PatientFacts = { format: 'trinadir.patient/1', by: 'test', membranousSeptumMm: { value: 9, halfWidth95: 1 }, mitralClearanceMm: { value: 12, halfWidth95: 1 } };
const find = (t: TestRoot = {}, patient: PatientFacts | null = PATIENT, size: DeviceSize = SIZE, rules: RuleSet | null = TRAINING_RULES) => findLanding(makeTestRoot(t), DEVICE, size, patient, rules);
const septum = (value: number, halfWidth95: number): PatientFacts => ({ ...PATIENT, membranousSeptumMm: { value, halfWidth95 } });

describe('the landing window', () => {
  it('of a root without any conflict is the table\'s own', () => {
    expect(find()).toMatchObject({ state: 'window', empty: false, startMm: 3, aimLowMm: 1, aimHighMm: 5, stopMm: 6, conflict: null, reasons: [] });
  });

  it('is the worked one of job.md D 26: device 1-5, septum 3.0 u 0.5 at the lower band edge -> [1.0, 2.0], septum 1.5 u 0.5 -> empty by 0.5', () => {
    expect(find({}, septum(3, 1))).toMatchObject({ state: 'window', aimLowMm: 1, aimHighMm: 2, stopMm: 2, startMm: 2 });
    const empty = find({}, septum(1.5, 1));
    expect(empty).toMatchObject({ state: 'empty', empty: true, startMm: null, aimLowMm: null, aimHighMm: null, stopMm: null, conflict: { low: 'device-window', high: 'membranous-septum' } });
    expect(empty.conflict!.gapMm).toBeCloseTo(0.5, 12);
    expect(empty.conflict!.gapAtValuesMm).toBeCloseTo(-0.5, 12); // at the values themselves it would be open
    expect(empty.reasons[0]!.text).toContain('0.5 mm apart');
    expect(empty.reasons[0]!.text).toContain('better measurement');
  });

  it('a missing fact is not passed over: the window is incomplete and says which', () => {
    const w = find({}, null);
    expect(w.state).toBe('incomplete');
    expect(w.reasons.map((r) => r.code)).toEqual(['landing-membranous-septum-unknown', 'landing-mitral-clearance-unknown']);
    expect(w.aimLowMm).toBe(1);
  });

  it('without a signed rule set no rule acts, and every one of them is named as missing', () => {
    const w = find({ leafletMm: 16, bulgeMm: 4 }, PATIENT, SIZE, null);
    expect(w.state).toBe('incomplete');
    expect(w.limits.filter((l) => !l.isKnown).map((l) => l.code)).toEqual(['membranous-septum', 'coronary-left', 'coronary-right', 'outflow-calcium', 'septal-bulge', 'mitral-clearance', 'junction-height']);
    expect(w.aimHighMm).toBe(5);
  });

  it('a cusp that ends below its ostium cannot cover it; a longer one asks the frame to keep its distance', () => {
    const [short, long] = [find({ leafletMm: 9 }), find({ leafletMm: 16, ostiumAxisMm: 15.9 })];
    expect(short.limits.find((l) => l.code === 'coronary-left')).toMatchObject({ lowMm: null, highMm: null });
    const limit = long.limits.find((l) => l.code === 'coronary-left')!;
    // By hand: at the bound the free frame is 15.9 - 4 = 11.9 mm wide at the ostium's height above the inflow edge.
    expect(measureFreeRadius(SIZE.frame, 13 + limit.atMm!)).toBeLessThan(11.9);
    expect(measureFreeRadius(SIZE.frame, 13 + limit.atMm! - 0.1)).toBeGreaterThan(11.9);
    expect(limit.lowMm).toBeGreaterThanOrEqual(limit.atMm!);
  });

  it('a frame that stays too near at every depth leaves no window and says why', () => {
    const w = find({ leafletMm: 16, ostiumAxisMm: 12 });
    expect(w).toMatchObject({ state: 'empty', conflict: { low: 'coronary-left', gapMm: null } });
    expect(w.reasons[0]!.text).toContain('at no depth');
  });

  it('a cusp that may or may not reach its ostium, or was not followed, leaves the limit unknown and tells the bound it would set', () => {
    for (const leafletMm of [13, null]) {
      const w = find({ leafletMm, ostiumAxisMm: 15.9 });
      expect(w.state).toBe('incomplete');
      expect(w.limits.find((l) => l.code === 'coronary-left')).toMatchObject({ isKnown: false, lowMm: null, because: expect.stringContaining('if it does, the frame keeps 4.0 mm') as string });
    }
    // Far enough from every frame position, nobody needs to know the cusp.
    expect(find({ leafletMm: null, ostiumAxisMm: 19 }).limits.find((l) => l.code === 'coronary-left')).toMatchObject({ isKnown: true, lowMm: null });
  });

  it('the inflow edge stays above the upper end of a large outflow deposit and ignores small and high ones', () => {
    const deposit = { centreLps: [0, 0, 0] as const, volumeMm3: 60, cusp: 'L' as const, heightMm: -6, protrusionMm: 2 };
    const limit = find({ deposits: [deposit, { ...deposit, volumeMm3: 5, heightMm: -2 }, { ...deposit, heightMm: 4 }] }).limits.find((l) => l.code === 'outflow-calcium')!;
    expect(limit.atMm).toBeCloseTo(6 - Math.cbrt((3 * 60) / (4 * Math.PI)), 12);
    expect(limit.highMm).toBeLessThan(limit.atMm!);
  });

  it('a septal bulge acts from the rule on, at its summit\'s shallow end', () => {
    expect(find({ bulgeMm: 0.8 }).limits.find((l) => l.code === 'septal-bulge')!.highMm).toBeNull();
    expect(find({ bulgeMm: 4, bulgeHeightMm: -4 }).limits.find((l) => l.code === 'septal-bulge')!.highMm).toBeCloseTo(3, 12);
  });

  it('a tall frame must end above the junction, a short one in a narrow junction below it', () => {
    expect(find({ junctionMm: 37 }).limits.find((l) => l.code === 'junction-height')!.highMm).toBeCloseTo(45 - 38 - 5, 12);
    const balloon = TRAINING_TABLE.devices[1]!;
    const short = (w: number) => findLanding(makeTestRoot({ junctionMm: 17, junctionWidthMm: w }), balloon, balloon.sizes[2]!, PATIENT, TRAINING_RULES).limits.find((l) => l.code === 'junction-height')!;
    expect(short(24).lowMm).toBeCloseTo(20 - 16, 12);
    expect(short(29).lowMm).toBeNull();
  });

  it('a less certain septum never widens the window, and aim stays inside every limit', () => {
    fc.assert(fc.property(fc.double({ min: 0, max: 9, noNaN: true }), fc.double({ min: 0, max: 3, noNaN: true }), fc.double({ min: 0, max: 2, noNaN: true }), (value, half, more) => {
      const [a, b] = [find({}, septum(value, half)), find({}, septum(value, half + more))];
      if (!b.empty) {
        expect(a.empty).toBe(false);
        expect(b.aimHighMm! - b.aimLowMm!).toBeLessThanOrEqual(a.aimHighMm! - a.aimLowMm! + 1e-12);
        for (const l of b.limits) {
          if (l.lowMm !== null) expect(b.aimLowMm).toBeGreaterThanOrEqual(l.lowMm);
          if (l.highMm !== null) expect(b.aimHighMm).toBeLessThanOrEqual(l.highMm);
        }
      }
    }));
  });

  it('the free frame has the reference hourglass of the 26 mm size: 13.0, 11.2 at 19 mm, 16.0', () => {
    const frame = { ...SIZE.frame, inflowMm: 26, waistMm: 22.4, outflowMm: 32, waistHeightMm: 19, heightMm: 45 };
    expect([0, 19, 45].map((h) => measureFreeRadius(frame, h))).toEqual([13, 11.2, 16]);
    expect(measureFreeRadius(frame, -0.1)).toBe(0);
    expect(measureFreeRadius(frame, 45.1)).toBe(0);
  });
});
