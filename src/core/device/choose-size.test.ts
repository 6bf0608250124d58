import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { makeTestRoot, testFact } from '../../../test/support/make-survey.ts';
import { normalCdf } from '../math/normal-cdf.ts';
import { checkDeviceTable } from './check-device-table.ts';
import { chooseSize } from './choose-size.ts';
import type { DeviceSize, DeviceTable } from './device-types.ts';
import { computeFitProbability, type RingDoubt } from './ring-doubt.ts';
import { TRAINING_TABLE } from './training-table.ts';

const SIZE = TRAINING_TABLE.devices[0]!.sizes[1]!; // 27, ring 21.5 to 24.2 mm
/** The training table with one size changed. */
function withSize(change: Partial<DeviceSize>, at = 1): DeviceTable {
  const [first, ...others] = TRAINING_TABLE.devices;
  return { ...TRAINING_TABLE, devices: [{ ...first!, sizes: first!.sizes.map((s, i) => (i === at ? { ...s, ...change } : s)) }, ...others] };
}
const codeOf = (table: DeviceTable): string => {
  const checked = checkDeviceTable(table);
  return checked.ok ? 'good' : checked.failure.code;
};

describe('a device table', () => {
  it('of the training set is whole and signed', () => expect(codeOf(TRAINING_TABLE)).toBe('good'));

  it.each([
    ['without a name', { ...TRAINING_TABLE, signedBy: ' ' }, 'devices-unsigned'],
    ['without a date', { ...TRAINING_TABLE, signedAt: 'yesterday' }, 'devices-unsigned'],
    ['without devices', { ...TRAINING_TABLE, devices: [] }, 'devices-empty'],
    ['with one device twice', { ...TRAINING_TABLE, devices: [TRAINING_TABLE.devices[0]!, TRAINING_TABLE.devices[0]!] }, 'devices-duplicate'],
    ['in cm', withSize({ basalDiameterMm: [2.15, 2.42], basalPerimeterMm: [6.75, 7.6] }), 'devices-units'],
    ['with a perimeter entered as a diameter', withSize({ basalDiameterMm: [67.5, 76] }), 'devices-units'],
    ['with a diameter entered as a perimeter', withSize({ basalPerimeterMm: [21.5, 24.2] }), 'devices-units'],
    ['with a negative length', withSize({ sinusWidthMinMm: -1 }), 'devices-negative'],
    ['with a limit that is no number', withSize({ ascendingMaxMm: Number.NaN }), 'devices-limit-missing'],
    ['with a range the wrong way round', withSize({ basalPerimeterMm: [76, 67.5] }), 'devices-range-reversed'],
    ['with a gap of half a millimetre', withSize({ basalDiameterMm: [22, 24.2] }), 'devices-ranges-gap'],
    ['with two sizes for one ring', withSize({ basalDiameterMm: [21, 24.2] }), 'devices-ranges-overlap'],
    ['with its waist above its end', withSize({ frame: { ...SIZE.frame, waistHeightMm: 50 } }), 'devices-frame'],
    ['with an aim deeper than the stop', withSize({ depthMm: { start: 3, aim: [1, 7], stop: 6 } }), 'devices-depth'],
  ])('%s is refused by name', (_, table, code) => expect(codeOf(table as DeviceTable)).toBe(code));

  it('with rows out of order is refused', () => {
    const [first] = TRAINING_TABLE.devices;
    expect(codeOf({ ...TRAINING_TABLE, devices: [{ ...first!, sizes: [...first!.sizes].reverse() }] })).toBe('devices-out-of-order');
  });
});

describe('the share of the doubt inside a size', () => {
  const ring = (p: number, d: number, sp: number, sd: number): RingDoubt => ({ perimeterMm: p, perimeterSdMm: sp, areaDiameterMm: d, areaDiameterSdMm: sd, meanDiameterMm: d, areaMm2: (Math.PI * d * d) / 4 });
  const inside = (v: number, s: number, [a, b]: readonly [number, number]): number => normalCdf((b - v) / s) - normalCdf((a - v) / s);

  it('is the product for independent errors, and near the smaller one for a shared error', () => {
    const r = ring(75.5, 24, 1, 0.3);
    const one = inside(75.5, 1, SIZE.basalPerimeterMm);
    const two = inside(24, 0.3, SIZE.basalDiameterMm);
    expect(computeFitProbability(r, SIZE, 0)).toBeCloseTo(one * two, 5); // Simpson and the 1e-7 of the distribution
    const shared = computeFitProbability(r, SIZE, 0.9999);
    expect(shared).toBeGreaterThan(one * two);
    expect(Math.abs(shared - Math.min(one, two))).toBeLessThan(0.005); // correlation is not quite 1
  });

  it('agrees with drawing: 40,000 pairs of correlated normals', () => {
    const r = ring(75, 23.6, 1.2, 0.4);
    let seed = 7;
    const next = (): number => { seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0; return (seed + 0.5) / 2 ** 32; };
    const gauss = (): number => Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next());
    let n = 0;
    for (let i = 0; i < 40_000; i++) {
      const z = gauss();
      const p = r.perimeterMm + r.perimeterSdMm * z;
      const d = r.areaDiameterMm + r.areaDiameterSdMm * (0.93 * z + Math.sqrt(1 - 0.93 ** 2) * gauss());
      if (p >= SIZE.basalPerimeterMm[0] && p <= SIZE.basalPerimeterMm[1] && d >= SIZE.basalDiameterMm[0] && d <= SIZE.basalDiameterMm[1]) n++;
    }
    expect(Math.abs(n / 40_000 - computeFitProbability(r, SIZE, 0.93))).toBeLessThan(0.01); // 4 SD of the count
  });

  it('lies between 0 and 1, sums to at most 1 over a touching table, and shrinks to the verdict of the value', () => {
    const sizes = TRAINING_TABLE.devices[0]!.sizes;
    fc.assert(fc.property(fc.double({ min: 18, max: 31, noNaN: true }), fc.double({ min: 0.01, max: 2, noNaN: true }), (d, sd) => {
      const r = ring(Math.PI * d, d, Math.PI * sd, sd);
      const shares = sizes.map((s) => computeFitProbability(r, s));
      for (const s of shares) expect(s >= 0 && s <= 1).toBe(true);
      expect(shares.reduce((a, b) => a + b, 0)).toBeLessThan(1.001); // ranges touch within a rounded tenth
    }));
    expect(computeFitProbability(ring(72, 22.9, 1e-6, 1e-6), SIZE)).toBeCloseTo(1, 6);
    expect(computeFitProbability(ring(80, 25.4, 1e-6, 1e-6), SIZE)).toBe(0);
  });
});

describe('the size of a root', () => {
  const patient = { format: 'trinadir.patient/1', by: 'test', vesselMinMm: { right: { value: 7.5, halfWidth95: 0.5 } } } as const;

  it('well inside a range is that size, with itself and its neighbours prepared', () => {
    const a = chooseSize(makeTestRoot({ diameterMm: 22.9 }), TRAINING_TABLE, patient);
    expect(a.answer).toEqual({ device: 'training-self-expanding', size: '27' });
    expect(a.byDevice[0]!.second).toEqual({ same: '27', neighbours: ['24', '30'] });
    expect(a.candidates).toHaveLength(8);
    expect(a.candidates.find((c) => c.size === '27' && c.device.includes('self'))!.verdict).toBe('fits');
  });

  it('at the border of two sizes is no size: both are named with what would decide', () => {
    const a = chooseSize(makeTestRoot({ diameterMm: 24.2 }), TRAINING_TABLE, patient);
    expect(a.byDevice[0]).toMatchObject({ size: null, between: ['27', '30'] });
    const between = a.doubt.find((d) => d.code === 'between-sizes')!;
    expect(between.text).toContain('27 and 30');
    expect(between.next).toContain('second reader');
    // The other device has a size here: the table's order gives it.
    expect(a.answer).toEqual({ device: 'training-balloon-expandable', size: '27' });
  });

  it('perimeter and area of an oval ring vote for different sizes, and both votes are kept (CT-02: D_P >= D_A)', () => {
    const a = chooseSize(makeTestRoot({ diameterMm: 24.1, ellipticity: 1.35, diameterHalfMm: 0.02 }), TRAINING_TABLE, patient);
    const [, small, large] = a.candidates;
    expect(small!.votes).toMatchObject({ perimeter: false, area: true });
    expect(large!.votes).toMatchObject({ perimeter: true, area: false });
    expect(a.byDevice[0]!.size).toBeNull();
  });

  it('oversizing has the worked values of CT-10 (26 mm circle on an ellipse 27 x 21) and keeps its sign (CT-13)', () => {
    const table = { ...TRAINING_TABLE, devices: [{ ...TRAINING_TABLE.devices[0]!, sizes: [{ ...SIZE, frame: { ...SIZE.frame, inflowMm: 26 } }] }] };
    const [c] = chooseSize(makeTestRoot({ diameterMm: Math.sqrt(27 * 21), ellipticity: 27 / 21 }), table, patient).candidates;
    expect(c!.oversizeByAreaPercent).toBeCloseTo(19.22399, 3);
    expect(c!.oversizeByPerimeterPercent).toBeCloseTo(7.91139, 3);
    const [wide] = chooseSize(makeTestRoot({ diameterMm: 28 }), table, patient).candidates;
    expect(wide!.oversizeByAreaPercent).toBeLessThan(0);
    expect(wide!.oversizeByArea95[0]).toBeLessThan(wide!.oversizeByAreaPercent);
  });

  it('a limit of the table that fails for certain takes the size away; one that straddles silences it', () => {
    const verdict = (t: Parameters<typeof makeTestRoot>[0]) => chooseSize(makeTestRoot({ diameterMm: 22.9, ...t }), TRAINING_TABLE, patient).candidates[1]!.verdict;
    expect(verdict({})).toBe('fits');
    expect(verdict({ sinusWidthMm: 25 })).toBe('does not fit');
    expect(verdict({ sinusWidthMm: 26.8 })).toBe('cannot say'); // limit 26.7, interval 26.4 to 27.2
    expect(verdict({ sinusWidthMm: null })).toBe('cannot say');
    expect(verdict({ ascendingMm: 48 })).toBe('does not fit');
  });

  it('says nothing about the access vessel as long as nobody measured it, and then judges it', () => {
    const limit = (p: typeof patient | null) => chooseSize(makeTestRoot({ diameterMm: 22.9 }), TRAINING_TABLE, p).candidates[1]!.limits.find((l) => l.code === 'access-vessel')!;
    expect(limit(null)).toMatchObject({ holds: false, state: 'cannot say', marginMm: null });
    expect(limit(patient)).toMatchObject({ holds: true, state: 'holds' });
    expect(limit({ ...patient, vesselMinMm: { right: { value: 4, halfWidth95: 0.5 } } } as never)).toMatchObject({ state: 'fails' });
  });

  it('tells calcium below the ring with the oversizing, without taking the size away', () => {
    const root = makeTestRoot({ diameterMm: 22.9 });
    const limit = (outflowMm3: typeof root.basalRing.areaMm2) => {
      const c = chooseSize({ ...root, calcium: { ...root.calcium!, outflowMm3 } }, TRAINING_TABLE, patient).candidates[1]!;
      return { verdict: c.verdict, ...c.limits.find((l) => l.code === 'outflow-calcium')! };
    };
    expect(limit(testFact(0, 0, 'mm3'))).toMatchObject({ state: 'holds', verdict: 'fits' });
    // 27 mm on 22.9 mm: (27 / 22.9)^2 - 1 = 39 %.
    expect(limit(testFact(60, 20, 'mm3'))).toMatchObject({ state: 'cannot say', verdict: 'fits', because: expect.stringMatching(/60 mm3 \(40 to 80\).*39 % over/) as string });
    expect(limit(testFact(null))).toMatchObject({ state: 'cannot say' });
  });

  it('refuses to tell sizes apart when the survey is less sure than their step', () => {
    const a = chooseSize(makeTestRoot({ diameterMm: 22.9, diameterHalfMm: 1.6 }), TRAINING_TABLE, patient);
    expect(a.answer).toBeNull();
    expect(a.doubt.map((d) => d.code)).toContain('survey-wider-than-step');
    expect(a.candidates[1]!.verdict).toBe('cannot say');
  });

  it('a ring that was refused gives no size and carries the reason on', () => {
    const root = makeTestRoot();
    const refused = { ...root, basalRing: { ...root.basalRing, perimeterMm: { ...root.basalRing.perimeterMm, value: null, low: null, high: null, status: 'refused' as const, reasons: [{ code: 'x', text: 'why', next: 'what' }] } } };
    expect(chooseSize(refused, TRAINING_TABLE, patient)).toMatchObject({ answer: null, candidates: [], doubt: [{ code: 'x' }], next: ['what'] });
  });

  it('a ring outside the table fits none of its sizes', () => {
    const a = chooseSize(makeTestRoot({ diameterMm: 36 }), TRAINING_TABLE, patient);
    expect(a.answer).toBeNull();
    expect(a.doubt.filter((d) => d.code === 'no-size-fits')).toHaveLength(2);
  });
});
