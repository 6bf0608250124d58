import { describe, expect, test } from 'vitest';
import { makeExamplePlan } from '../../../test/support/example-plan.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { TRAINING_TABLE } from '../device/training-table.ts';
import type { RootMap, RootSurvey } from '../root/root-types.ts';
import { askRelease, type CaseFacts, type ReleaseSettings } from './ask-release.ts';
import { makeAnalyticParts, makeContactSurface } from './contact-surface.ts';
import { evaluateContact } from './evaluate-contact.ts';
import { forecastRelease } from './forecast-release.ts';
import { makeFrameFromRow, makeGenericFrame } from './frame-shape.ts';
import { computeRestingRadii, estimateInflatedFrame } from './inflated-frame.ts';
import { REFERENCE_ROOTS, type ReferenceRootName } from './reference-roots.ts';
import type { WallPoint } from './release-types.ts';
import { DEFAULT_CHOICE } from './sample-inputs.ts';
import { makeMeasuredSurface } from './surface-from-survey.ts';
import { lowerByDeposits, readDeposits } from './survey-deposits.ts';
import { PART, PART_SLOTS } from './wall-stiffness.ts';
import { combineWall, makeWallBasis, NOMINAL_WALL, sizeWallGrid } from './wall-grid.ts';

const survey = makeExamplePlan().root!;
const RAD = Math.PI / 180;

function mapOf(radius: (azimuthRad: number, heightMm: number) => number | null, lowMm = -14, highMm = 40): RootMap {
  const azimuthDeg = Array.from({ length: 72 }, (_, i) => 5 * i);
  const heightMm = Array.from({ length: highMm - lowMm + 1 }, (_, i) => lowMm + i);
  return {
    azimuthDeg, heightMm,
    radiusMm: heightMm.map((h) => azimuthDeg.map((a) => radius(a * RAD, h))),
    calciumHu: heightMm.map(() => azimuthDeg.map(() => null)),
  };
}
/** The example survey with another wall and no calcium. */
function withWall(map: RootMap): RootSurvey {
  const { calcium: _calcium, ...rest } = survey;
  const fact = (value: number) => ({ ...survey.basalRing.perimeterDiameterMm, value, low: value - 0.4, high: value + 0.4, status: 'settled' as const });
  const area = (value: number) => ({ ...survey.basalRing.areaMm2, value, low: value - 12, high: value + 12 });
  return { ...rest, map, leaflets: {}, basalRing: { ...survey.basalRing, perimeterDiameterMm: fact(23), areaMm2: area(415) } };
}
/** What a survey would map of a closed-form root: its vessel wall, leaflets not being part of the map. */
function mapReference(name: ReferenceRootName, noiseMm = 0): RootMap {
  const root = REFERENCE_ROOTS[name];
  const surface = makeContactSurface(makeAnalyticParts({ ...root, narrowing: 0, calcium: null }));
  const point: WallPoint = { radiusMm: 0, radiusSlope: 0, stiffnessNPerMm3: 0, stiffnessSlope: 0 };
  let k = 0;
  return mapOf((azimuth, h) => {
    surface(h, azimuth, point);
    k = (k * 1103515245 + 12345) % 2147483648;
    return point.radiusMm + noiseMm * (k / 1073741824 - 1) * Math.sqrt(3);
  });
}

const SLOPE: Tolerance = { relative: 0, absolute: 1e-6, from: 'central difference of 1e-4 mm' };

describe('makeMeasuredSurface', () => {
  test('is continuously differentiable along s: the slope is that of the radius and of the stiffness everywhere', () => {
    const made = makeMeasuredSurface(survey);
    if (!made.ok) throw new Error(made.failure.message);
    const surface = makeContactSurface(made.value.parts);
    const [a, b, c] = [{}, {}, {}] as [WallPoint, WallPoint, WallPoint];
    const h = 1e-4;
    for (let j = 0; j < 24; j += 5) {
      for (let s = -15.03; s < 44; s += 0.3717) {
        const azimuth = (2 * Math.PI * j) / 24;
        surface(s - h, azimuth, a);
        surface(s, azimuth, b);
        surface(s + h, azimuth, c);
        // Second derivatives jump at nodes; the places above avoid them.
        expectWithin(b.radiusSlope, (c.radiusMm - a.radiusMm) / (2 * h), SLOPE);
        expectWithin(b.stiffnessSlope, (c.stiffnessNPerMm3 - a.stiffnessNPerMm3) / (2 * h), SLOPE);
        expect(b.stiffnessNPerMm3).toBeGreaterThan(0);
      }
    }
  });
  test('keeps the energy of the contact within 1e-6 of the grip', () => {
    const made = makeMeasuredSurface(survey);
    if (!made.ok) throw new Error(made.failure.message);
    const surface = makeContactSurface(made.value.parts);
    const frame = makeGenericFrame();
    for (const depth of [1.3, 4.2]) {
      const sum = evaluateContact(frame, surface, -depth, 1);
      const h = 1e-4;
      const slope = (evaluateContact(frame, surface, -depth + h, 1).energyNMm - evaluateContact(frame, surface, -depth - h, 1).energyNMm) / (2 * h);
      expect(Math.abs(-slope - sum.driveN) / sum.gripN).toBeLessThanOrEqual(1e-6);
    }
  });
  // The measured surface holds the annulus's radius up the leaflet; the closed form lets the bulge's tail fade above it.
  test.each([['straight', 0.02, 0.4], ['tapered', 0.02, 0.4], ['flared', 0.02, 0.4], ['bulge', 0.06, 0.4]] as const)('gives back the drive and grip of a known root from its map: %s', (name, gripShare, driveN) => {
    const made = makeMeasuredSurface(withWall(mapReference(name)));
    if (!made.ok) throw new Error(made.failure.message);
    const frame = makeGenericFrame();
    for (const depth of [2, 4, 8]) {
      const got = evaluateContact(frame, makeContactSurface(made.value.parts), -depth, 1);
      const wanted = evaluateContact(frame, makeContactSurface(makeAnalyticParts(REFERENCE_ROOTS[name])), -depth, 1);
      expectWithin(got.gripN, wanted.gripN, { relative: gripShare, absolute: 0, from: 'smoothing of 3 mm along s and of 15 degrees around' });
      expectWithin(got.driveN, wanted.driveN, { relative: 0, absolute: driveN, from: 'smoothing of 3 mm; the drive of a CT radius is known to 2 N at best' });
    }
  });
  test('noise of 0.15 mm on the map moves the drive by less than 0.5 N', () => {
    const frame = makeGenericFrame();
    const driveOf = (noise: number): number => {
      const made = makeMeasuredSurface(withWall(mapReference('straight', noise)));
      if (!made.ok) throw new Error(made.failure.message);
      return evaluateContact(frame, makeContactSurface(made.value.parts), -4, 1).driveN;
    };
    expectWithin(driveOf(0.15), driveOf(0), { relative: 0, absolute: 0.5, from: 'slope noise 0.03 x 46 N / sqrt(24 sectors), three standard deviations' });
  });
  test('calcium lowers the radius and stiffens the wall where it lies', () => {
    const bare = makeMeasuredSurface(withWall(mapReference('straight')));
    const made = makeMeasuredSurface({ ...withWall(mapReference('straight')), calcium: survey.calcium! });
    if (!made.ok || !bare.ok) throw new Error('refused');
    expect(made.value.bumps.length).toBeGreaterThan(0);
    const [p, q] = [{}, {}] as [WallPoint, WallPoint];
    for (const bump of made.value.bumps) {
      makeContactSurface(made.value.parts)(bump.centreMm, bump.azimuthRad, p);
      makeContactSurface(bare.value.parts)(bump.centreMm, bump.azimuthRad, q);
      expect(q.radiusMm - p.radiusMm).toBeGreaterThan(0.9 * bump.inwardMm);
      expect(p.stiffnessNPerMm3).toBeGreaterThan(q.stiffnessNPerMm3);
    }
  });
  test('a leaflet deposit comes half inward where there is room behind it, whole where there is none; smoothing keeps its volume', () => {
    const one = { ...survey.calcium!, deposits: [{ ...survey.calcium!.deposits[0]!, volumeMm3: 60, protrusionMm: 20, heightMm: 5 }] };
    const thick = 2 * Math.cbrt((3 * 60) / (4 * Math.PI));
    const read = (room: number, heightMm = 5) => readDeposits({ ...survey, calcium: { ...one, deposits: [{ ...one.deposits[0]!, heightMm }] } }, 12, () => room);
    const EXACT: Tolerance = { relative: 1e-12, absolute: 0, from: 'closed form' };
    expectWithin(read(9).deposits[0]!.inwardMm, thick / 2, EXACT);
    expectWithin(read(0).deposits[0]!.inwardMm, thick, EXACT);
    expectWithin(read(9, -3).deposits[0]!.inwardMm, thick, EXACT);
    const { bumps, deposits } = read(0);
    const bareSd = thick / 2 / Math.SQRT2;
    expectWithin(bumps[0]!.inwardMm * bumps[0]!.spreadMm ** 2, deposits[0]!.inwardMm * bareSd ** 2, EXACT);
  });
  test('two deposits in one place lower the radius no more than a fifth beyond one', () => {
    const bump = { inwardMm: 2, centreMm: 1, spreadMm: 2, spreadDeg: 10, azimuthRad: 0 };
    const lower = (n: number): number => {
      const out = new Float64Array(PART_SLOTS);
      lowerByDeposits(out, Array.from({ length: n }, () => bump), 1, 0);
      return -out[PART.radius]!;
    };
    expectWithin(lower(1), 2, { relative: 1e-12, absolute: 0, from: 'closed form' });
    expectWithin(lower(2), 2 * 2 ** 0.25, { relative: 1e-12, absolute: 0, from: 'closed form' });
  });
  test('bridges a gap of 30 degrees, ends the measured range at a wider one, and refuses when that cuts the annulus', () => {
    const holed = (deg: number, from: number) =>
      mapOf((azimuth, h) => (h <= from && azimuth / RAD < deg - 2.5 ? null : 11.5 + (h > 9 ? 2 : 0)));
    const ok = makeMeasuredSurface(withWall(holed(30, -8)));
    expect(ok.ok && ok.value.measuredMm[0]).toBe(-14);
    expect(ok.ok && ok.value.largestGapDeg).toBe(30);
    const cut = makeMeasuredSurface(withWall(holed(60, -8)));
    expect(cut.ok && cut.value.measuredMm[0]).toBe(-7);
    const refused = makeMeasuredSurface(withWall(holed(60, 2)));
    expect(!refused.ok && refused.failure.code).toBe('release-wall-incomplete');
    const ring = { ...survey.basalRing, perimeterDiameterMm: { ...survey.basalRing.perimeterDiameterMm, value: null } };
    const noRing = makeMeasuredSurface({ ...survey, basalRing: ring });
    expect(!noRing.ok && noRing.failure.code).toBe('release-ring-refused');
  });
});

describe('askRelease', () => {
  const facts: CaseFacts = { sliceMm: 0.6, phaseDifferenceMm: null, hasMetal: false, anatomy: 'three cusps', coaxialityDeg: null };
  const settings: ReleaseSettings = { startMm: 4, sweepMm: [2, 6], releases: 12, seed: 5, choice: { ...DEFAULT_CHOICE, tension: 'neutral' } };
  const stamp = { by: 'test', at: '2026-03-02T08:11:00Z' };
  const device = TRAINING_TABLE.devices.find((d) => d.kind === 'self-expanding')!;
  const size = device.sizes.find((s) => s.frame.inflowMm >= 27)!;
  test('a survey and a size of the table give a forecast with everything the contract names', () => {
    const q = askRelease(survey, device.kind, size, facts, settings, stamp);
    if (!q.ok) throw new Error(q.failure.message);
    const f = forecastRelease(q.value);
    expect(f.refusals.every((r) => r.next.length > 0)).toBe(true);
    if (f.sweep.length > 0) {
      expect(f.sweep.map((s) => s.startMm)).toEqual([2, 4, 6]);
      expect(f.expectedFrame!.inflow.meanDiameterMm).toBeLessThanOrEqual(size.frame.inflowMm + 1e-9);
    }
  });
  test('a balloon frame and a frame that is no hourglass are refused', () => {
    const balloon = TRAINING_TABLE.devices.find((d) => d.kind === 'balloon-expandable')!;
    const no = askRelease(survey, balloon.kind, balloon.sizes[0]!, facts, settings, stamp);
    expect(!no.ok && no.failure.code).toBe('release-frame-not-self-expanding');
    const cm = askRelease(survey, device.kind, { ...size, frame: { ...size.frame, heightMm: 4.5 } }, facts, settings, stamp);
    expect(!cm.ok && cm.failure.code).toBe('frame-shape-implausible');
    const bad = makeFrameFromRow({ ...size.frame, waistMm: NaN });
    expect(bad.ok).toBe(false);
  });
});

describe('estimateInflatedFrame', () => {
  const cusps = { R: 0, L: 120 * RAD, N: 240 * RAD };
  const frame = makeGenericFrame();
  const wallOf = (name: ReferenceRootName) => combineWall(makeWallBasis(makeAnalyticParts(REFERENCE_ROOTS[name]), 0.07, sizeWallGrid(45)), NOMINAL_WALL);
  test('at the annulus the wall gives 0.43 mm under the reference frame', () => {
    const ring = 0; // inflow edge on the basal plane
    const radii = computeRestingRadii(frame, wallOf('straight'), 0, ring);
    expectWithin(radii[0]! - 11.5, 0.43, { relative: 0, absolute: 0.06, from: 'the reference number is for k_w 0.14; the fitted side of the septum shifts it' });
    for (const r of radii) expect(r > 11.5 && r < 13).toBe(true);
  });
  test('is round in a round root, oval over a bulge, and finds no gap where the frame is oversized', () => {
    const round = estimateInflatedFrame(frame, wallOf('straight'), 0, cusps);
    expect(round.inflow.minOverMaxRatio).toBeGreaterThan(0.98);
    expect(round.gaps).toEqual([]);
    expect(estimateInflatedFrame(frame, wallOf('bulge'), 6, cusps).inflow.minOverMaxRatio).toBeLessThan(0.95);
  });
  test('names a gap by cusp, azimuth, height and width', () => {
    const wall = wallOf('straight');
    const radiusMm = wall.radiusMm.map((r, at) => ([8, 9].includes(at % 24) ? 14 : r));
    const { gaps } = estimateInflatedFrame(frame, { ...wall, radiusMm }, 4, cusps);
    expect(gaps).toHaveLength(1);
    expect(gaps[0]).toMatchObject({ cusp: 'L', fromDeg: 112.5, toDeg: 142.5 });
    expectWithin(gaps[0]!.gapMm, 1, { relative: 0, absolute: 1e-9, from: 'closed form' });
  });
});
