import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { makeTrueCalciumInput } from '../phantom/calcium-input.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import type { CalciumShape, PhantomScan, PhantomShape } from '../phantom/phantom-types.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { distance, dot } from '../math/vec3.ts';
import { measureCalcium, type CalciumInput } from './measure-calcium.ts';
import { CUSPS, type RootCalcium } from './root-types.ts';

const STAMP = { by: 'trinadir test', at: '2026-03-02T08:11:00Z' };

/** A smaller field than usual: the root alone. */
function drawCase(seed: number, change: (shape: PhantomShape, scan: PhantomScan) => { shape?: Partial<PhantomShape>; scan?: Partial<PhantomScan> }) {
  const made = makeSeededShape(seed);
  const changed = change(made.shape, made.scan);
  const shape = { ...made.shape, ...changed.shape };
  const [sx, sy, sz] = made.scan.spacingMm;
  const scan = { ...made.scan, dims: [Math.round(78 / sx), Math.round(78 / sy), Math.round(74 / sz)] as const, centreLps: made.shape.pose.positionLps, ...changed.scan };
  const drawn = drawPhantom(shape, scan);
  return { shape, truth: drawn.truth, input: makeTrueCalciumInput(shape, scan, drawn, STAMP) };
}
const plain = drawCase(1017, () => ({}));
const answer = measureCalcium(plain.input);
const blank = drawCase(1012, (_, scan) => ({ shape: { calcium: [] }, scan: { contrastHu: 380, noise: { ...scan.noise, sdHu: 40 } } }));
/** One round deposit whose middle lies on the basal plane, at the wall below the left cusp. */
const straddling: CalciumShape = { place: 'annulus', azimuthDeg: 120, heightMm: 0, radiusMm: 11, semiAxesMm: [2, 2, 2], leanDeg: 0, attenuationHu: 1000 };
const split = drawCase(1012, (shape) => ({ shape: { calcium: [{ ...straddling, radiusMm: shape.ring.meanRadiusMm - 2.5 }] } }));
/** Two bars grown together at a right angle: no ellipsoid. */
const BARS = [{ ...straddling, heightMm: 6, semiAxesMm: [1, 3, 1], attenuationHu: 900 }, { ...straddling, heightMm: 9, semiAxesMm: [1, 1, 2.6], attenuationHu: 900 }] as const;
const bent = drawCase(1012, (shape) => ({ shape: { calcium: BARS.map((b) => ({ ...b, radiusMm: shape.ring.meanRadiusMm - 4 })) } }));

/** The volume with the sign of one grid axis turned: same patient, other order of samples. */
function reorder(volume: CtVolume): CtVolume {
  const [nx, ny, nz] = volume.dims;
  const samplesHu = new Int16Array(volume.samplesHu.length);
  for (let k = 0; k < nz; k++) samplesHu.set(volume.samplesHu.subarray(k * nx * ny, (k + 1) * nx * ny), (nz - 1 - k) * nx * ny);
  const r = volume.lpsFromVoxel.rows;
  const rows = r.map((v, i) => (i % 4 === 2 ? -v : i % 4 === 3 ? v + (nz - 1) * r[i - 1]! : v));
  return { ...volume, samplesHu, lpsFromVoxel: { ...volume.lpsFromVoxel, rows } };
}
const sum = (c: RootCalcium): number => CUSPS.reduce((t, cusp) => t + c.byCuspMm3[cusp].value! + c.outflowByCuspMm3[cusp].value!, 0);

describe('measureCalcium (phantom seeds 1012 and 1017)', () => {
  test('gives the volume of the whole zone and of each cusp with intervals that hold the truth', () => {
    const t = plain.truth.calcium;
    const whole = t.byCuspMm3.R + t.byCuspMm3.L + t.byCuspMm3.N + t.outflowMm3;
    expectWithin(answer.volumeMm3.value!, whole, { relative: 0.1, absolute: 0, from: 'the accuracy asked of deposits of 20 mm3 and more' });
    expect(answer.volumeMm3.low! <= whole && whole <= answer.volumeMm3.high!).toBe(true);
    for (const cusp of CUSPS) {
      const [fact, truth] = [answer.byCuspMm3[cusp], t.byCuspMm3[cusp]];
      expect(fact.low! <= truth && truth <= fact.high!, `${cusp}: ${fact.low} ${truth} ${fact.high}`).toBe(true);
      expectWithin(fact.value!, truth, { relative: 0.2, absolute: 3, from: '95th percentile asked; a deposit on the line between two cusps' });
    }
    expect(answer.scoreUnit).toBe('mm3 above a contrast-relative threshold');
  });
  test('finds each deposit of 20 mm3 and more at its place, cusp and depth', () => {
    const large = plain.truth.calcium.deposits.filter((d) => d.volumeMm3 >= 20);
    expect(large.length).toBeGreaterThan(3);
    for (const d of large) {
      const near = [...answer.deposits].sort((a, b) => distance(a.centreLps, d.centreLps) - distance(b.centreLps, d.centreLps))[0]!;
      expectWithin(distance(near.centreLps, d.centreLps), 0, { relative: 0, absolute: 0.5, from: 'one pixel' });
      expectWithin(near.volumeMm3, d.volumeMm3, { relative: 0.2, absolute: 0, from: '95th percentile asked' });
      expectWithin(near.protrusionMm, d.protrusionMm, { relative: 0, absolute: 0.8, from: 'a voxel and the end of the fitted ellipsoid' });
      expect(near.cusp).toBe(d.cusp);
    }
  });
  test('adds up: cusps, outflow tract and deposits give the same total', () => {
    const total = answer.volumeMm3.value!;
    expectWithin(sum(answer), total, { relative: 1e-9, absolute: 0, from: 'sums in another order' });
    expectWithin(answer.deposits.reduce((t, d) => t + d.volumeMm3, 0), total, { relative: 1e-9, absolute: 0, from: 'sums in another order' });
    expectWithin(CUSPS.reduce((t, c) => t + answer.outflowByCuspMm3[c].value!, 0), answer.outflowMm3.value!, { relative: 1e-9, absolute: 1e-9, from: 'sums' });
  });
  test('CT-39 takes the blood level plus 100 HU as threshold', () => {
    const quiet = measureCalcium(blank.input);
    expect(quiet.thresholdHu).toBe(480);
    expect(answer.thresholdHu).toBeGreaterThanOrEqual(plain.input.bloodHu + 100);
  });
  test('finds less than 1 mm3 where there is no calcium, at noise of 40 HU, and says what may hide', () => {
    const none = measureCalcium(blank.input);
    expect(none.volumeMm3.value).toBeLessThan(1);
    expect(none.deposits).toEqual([]);
    expect(none.volumeMm3.low).toBe(0);
    expect(none.volumeMm3.high).toBeGreaterThan(0.5);
  });
  test('splits a deposit on the basal plane by height', () => {
    const t = split.truth.calcium;
    const got = measureCalcium(split.input);
    expect(got.deposits.length).toBe(1);
    expectWithin(got.volumeMm3.value!, t.volumeMm3, { relative: 0.15, absolute: 0, from: 'twice the median error of one deposit' });
    expectWithin(got.byCuspMm3.L.value! / got.volumeMm3.value!, t.byCuspMm3.L / t.volumeMm3, { relative: 0, absolute: 0.1, from: 'a fifth of a millimetre of height' });
    expect(t.outflowMm3 / t.volumeMm3).toBeGreaterThan(0.4);
  });
  test('a deposit that is no ellipsoid is counted place by place, and its interval says how well that is known', () => {
    const [found, truth] = [measureCalcium(bent.input).volumeMm3, bent.truth.calcium.volumeMm3];
    expectWithin(found.value!, truth, { relative: 0.35, absolute: 0, from: '31.5 % here; one ellipsoid of one plateau reads 68 % too much' });
    expect(found.low! <= truth && truth <= found.high!).toBe(true);
  });
  test('does not depend on the order of the slices', () => {
    const turned = measureCalcium({ ...plain.input, volume: reorder(plain.input.volume) });
    expectWithin(turned.volumeMm3.value!, answer.volumeMm3.value!, { relative: 0.01, absolute: 0, from: 'the fill-in runs through the voxels the other way' });
    for (const cusp of CUSPS) expectWithin(turned.byCuspMm3[cusp].value!, answer.byCuspMm3[cusp].value!, { relative: 0.02, absolute: 0.2, from: 'as above' });
  });
  test('gives the same bytes twice', () => {
    expect(JSON.stringify(measureCalcium(plain.input))).toBe(JSON.stringify(answer));
  });
  test('leaves out a bright chamber outside the wall and metal', () => {
    const table = blank.input.wall;
    const painted = (hu: number, inMm: number, outMm: number, angleRad: number, radMm: number): CtVolume => {
      const v = blank.input.volume;
      const samplesHu = Int16Array.from(v.samplesHu);
      const m = v.lpsFromVoxel.rows;
      const { originLps: o, uLps: u, vLps: w, normalLps: n } = blank.input.frame;
      const [nx, ny, nz] = v.dims;
      const rows = [u, w, n].map((a) => [0, 1, 2, 3].map((c) => a[0] * m[c]! + a[1] * m[4 + c]! + a[2] * m[8 + c]! - (c === 3 ? dot(a, o) : 0)));
      for (let k = 0, s = 0; k < nz; k++) {
        for (let j = 0; j < ny; j++) {
          for (let i = 0; i < nx; i++, s++) {
            const h = rows[2]![0]! * i + rows[2]![1]! * j + rows[2]![2]! * k + rows[2]![3]!;
            if (Math.abs(h) > radMm) continue;
            const x = rows[0]![0]! * i + rows[0]![1]! * j + rows[0]![2]! * k + rows[0]![3]!;
            const y = rows[1]![0]! * i + rows[1]![1]! * j + rows[1]![2]! * k + rows[1]![3]!;
            const [away, turn] = [Math.hypot(x, y), Math.atan2(y, x)];
            const side = Math.abs(Math.atan2(Math.sin(turn - angleRad), Math.cos(turn - angleRad)));
            if (side * away > radMm) continue;
            const row = Math.round((h - table.lowMm) / table.stepMm);
            const out = away - table.radiusMm[Math.max(0, row) * table.azimuths + (Math.round((turn / (2 * Math.PI) + 1) * table.azimuths) % table.azimuths)]!;
            if (out > inMm && out < outMm) samplesHu[s] = hu;
          }
        }
      }
      return { ...v, samplesHu };
    };
    const chamber = measureCalcium({ ...blank.input, volume: painted(1000, 1.5, 25, 4.2, 12) });
    expect(chamber.volumeMm3.value).toBeLessThan(1);
    expect(chamber.volumeMm3.reasons.map((r) => r.code)).toContain('calcium-bright-neighbour');
    const lead = measureCalcium({ ...blank.input, volume: painted(3000, -4, -1, 4.2, 1.5) });
    expect(lead.volumeMm3.value).toBe(0);
    expect(lead.volumeMm3.reasons.map((r) => r.code)).toContain('calcium-metal-left-out');
    const calcium = measureCalcium({ ...blank.input, volume: painted(1000, -4, -1, 4.2, 1.5) });
    expect(calcium.volumeMm3.value).toBeGreaterThan(5);
    expect(calcium.volumeMm3.value).toBeLessThan(60);
  });
  test('refuses without contrast, without a wall and beside the scan, every number with its reason', () => {
    const codeOf = (change: Partial<CalciumInput>): string => {
      const r = measureCalcium({ ...plain.input, ...change });
      expect(r.byCuspMm3.N.value).toBeNull();
      expect(r.outflowByCuspMm3.R.status).toBe('refused');
      return r.volumeMm3.reasons[0]!.code;
    };
    expect(codeOf({ bloodHu: 149 })).toBe('calcium-no-contrast');
    expect(codeOf({ blurMm: Number.NaN })).toBe('calcium-input-incomplete');
    expect(codeOf({ wall: { ...plain.input.wall, radiusMm: plain.input.wall.radiusMm.map(() => Number.NaN) } })).toBe('calcium-input-incomplete');
    expect(codeOf({ frame: { ...plain.input.frame, originLps: [9000, 0, 0] } })).toBe('calcium-zone-outside-scan');
  });
  test('says when the scan ends within the zone and carries the doubts it was given', () => {
    const [nx, ny] = plain.input.volume.dims;
    const v = plain.input.volume;
    const half = Math.floor(v.dims[2] / 2);
    const cut = measureCalcium({
      ...plain.input, volume: { ...v, dims: [nx, ny, half], samplesHu: v.samplesHu.subarray(0, nx * ny * half) },
      doubts: [{ code: 'given', text: 'A doubt.', next: 'Look.' }],
    });
    expect(cut.volumeMm3.reasons.map((r) => r.code)).toEqual(expect.arrayContaining(['given', 'calcium-zone-cut']));
    expect(cut.volumeMm3.status).toBe('doubtful');
  });
});
