import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cross, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { RootSurvey } from '../root/root-types.ts';
import { makeViewAxes } from './camera-view.ts';
import { chooseViews, isReachable } from './choose-views.ts';
import { describeView } from './describe-view.ts';
import { findPerpendicularSecondary, tracePerpendicularCurve } from './perpendicular-curve.ts';
import { mapViewErrors, measureViewError } from './view-error.ts';
import type { ReachLimits } from './view-types.ts';

// Hinges of checks CT-16; the same in CT-23 to CT-28.
const N: Vec3 = [-12, 8, 0];
const L: Vec3 = [6, 10, 6];
const R: Vec3 = [2, -9, -3];
const REACH: ReachLimits = { laoDeg: 60, raoDeg: 60, cranialDeg: 40, caudalDeg: 40, source: 'test' };

function makeRoot(nadirs: { R: Vec3; L: Vec3; N: Vec3 }, axis?: Vec3): RootSurvey {
  const raw = unit(cross(sub(nadirs.L, nadirs.N), sub(nadirs.R, nadirs.N)));
  const normalLps = raw[2] < 0 ? scale(raw, -1) : raw;
  const pointLps = scale([nadirs.R[0] + nadirs.L[0] + nadirs.N[0], nadirs.R[1] + nadirs.L[1] + nadirs.N[1], nadirs.R[2] + nadirs.L[2] + nadirs.N[2]], 1 / 3);
  const along = axis ?? normalLps;
  const levels = Array.from({ length: 33 }, (_, i) => {
    const heightMm = i - 12;
    const c = scale(along, heightMm / dot(along, normalLps));
    const centre: Vec3 = [pointLps[0] + c[0], pointLps[1] + c[1], pointLps[2] + c[2]];
    return { heightMm, contourLps: [0, 1, 2, 3].map((k) => [centre[0] + Math.cos((k * Math.PI) / 2), centre[1] + Math.sin((k * Math.PI) / 2), centre[2]]) };
  });
  return {
    basalPlane: { pointLps, normalLps, nadirsLps: nadirs, tiltUncertaintyDeg: 2, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } },
    levels, coronaries: { left: { ostiumLps: [pointLps[0] + 12, pointLps[1], pointLps[2] + 12] } },
  } as unknown as RootSurvey;
}
const ROOT = makeRoot({ R, L, N });
const SUPINE = { patientPosition: 'HFS', reach: REACH };
const pick = (views: ReturnType<typeof chooseViews>, role: string) => views.chosen.find((v) => v.role === role)!;

describe('the perpendicular curve', () => {
  it('is the one of checks CT-23 [D]', () => {
    const want = [[-30, -26.635], [-10, -24.551], [0, -22.449], [10, -19.646], [20, -16.17], [30, -12.085]];
    for (const [p, s] of want) expect(Math.abs(findPerpendicularSecondary([-0.25674, -0.369063, 0.89324], p!)! - s!)).toBeLessThan(2e-3); // stated there
  });

  it('sees the plane on edge at every point, for every plane (CT-24), also when the plane stands upright', () => {
    const c = fc.double({ min: -1, max: 1, noNaN: true });
    fc.assert(fc.property(c, c, fc.oneof(c, fc.constant(0)), (x, y, z) => {
      fc.pre(Math.hypot(x, y, z) > 0.05);
      const n = unit([x, y, z]);
      for (const view of tracePerpendicularCurve(n)) {
        expect(Math.abs(dot(makeViewAxes(view).beamLps, n))).toBeLessThan(1e-12);
        expect(Math.abs(view.secondaryDeg)).toBeLessThanOrEqual(90);
      }
    }));
  });

  it('has one point per whole degree from -90 to 90, and one less where the arm turns within the plane', () => {
    expect(tracePerpendicularCurve([0.2, 0.3, 0.9])).toHaveLength(181);
    expect(tracePerpendicularCurve([1, 0, 0])).toHaveLength(180); // P = 0: every secondary angle sees it on edge
  });

  it('the published population line S = -16.4 + 0.53 P, mean LAO 8.9 (CT-29 [V]), is the curve of a plane tilted 31 deg toward the right front', () => {
    const n = unit([-0.514, -0.2898, 1]); // solved by hand from value and slope at 8.9
    const at = (p: number): number => findPerpendicularSecondary(n, p)!;
    expect(Math.abs(at(8.9) - -11.683)).toBeLessThan(0.5);
    expect(Math.abs((at(13.9) - at(3.9)) / 10 - 0.53)).toBeLessThan(0.02); // chord over 10 deg
    expect(n[0]).toBeLessThan(0);
    expect(n[1]).toBeLessThan(0);
  });
});

describe('the roles', () => {
  const views = chooseViews(ROOT, SUPINE);

  it('start and three-cusps are the worked angles of CT-25 and CT-27 [D]', () => {
    expect(pick(views, 'start').primaryDeg).toBeCloseTo(-11.8887, 3);
    expect(pick(views, 'start').secondaryDeg).toBeCloseTo(-24.8688, 3);
    expect(pick(views, 'three-cusps').primaryDeg).toBeCloseTo(15.5241, 3);
    expect(pick(views, 'three-cusps').secondaryDeg).toBeCloseTo(-17.8056, 3);
  });

  it('in the start view R and L cover one another and N stands 17.5 mm apart (CT-28 [D])', () => {
    const seen = describeView(pick(views, 'start'), ROOT.basalPlane);
    expect(Math.max(...seen.gapsMm)).toBeCloseTo(11.6481 + 5.824, 3);
    expect(Math.min(...seen.gapsMm)).toBeCloseTo(0, 9);
    expect([...(seen.covered ?? [])].sort()).toEqual(['L', 'R']);
    expect(seen.order.indexOf('N')).not.toBe(1);
  });

  it('in the three-cusps view R stands in the middle at equal gaps', () => {
    const seen = describeView(pick(views, 'three-cusps'), ROOT.basalPlane);
    expect(seen.order[1]).toBe('R');
    expect(seen.gapsMm[0]).toBeCloseTo(seen.gapsMm[1], 9);
    expect(seen.covered).toBeNull();
  });

  it('no reachable view of the curve parts the nadirs farther than the widest-apart one', () => {
    const widest = Math.min(...describeView(pick(views, 'widest-apart'), ROOT.basalPlane).gapsMm);
    for (const view of views.perpendicular) {
      if (isReachable(view, REACH)) expect(Math.min(...describeView(view, ROOT.basalPlane).gapsMm)).toBeLessThanOrEqual(widest + 1e-9);
    }
  });

  it('least-parallax sees plane and bent frame axis on edge, and says so when they are one', () => {
    const bent = unit([0.1, -0.5, 0.85]);
    const found = pick(chooseViews(makeRoot({ R, L, N }, bent), SUPINE), 'least-parallax');
    const beam = makeViewAxes(found).beamLps;
    expect(Math.abs(dot(beam, bent))).toBeLessThan(1e-9);
    expect(Math.abs(dot(beam, ROOT.basalPlane.normalLps))).toBeLessThan(1e-9);
    expect(views.without.map((w) => w.code)).toContain('frame-axis-along-normal');
  });

  it('every role lies on the curve and carries an interval that reaches above zero', () => {
    for (const v of views.chosen) {
      expect(v.depthPerRadius.value).toBeLessThan(0.009); // widest-apart is a whole degree off at most half a degree of the curve
      expect(v.depthPerRadius.high).toBeCloseTo(Math.sin((2 * Math.PI) / 180), 2); // tilt 2 deg
      expect(v.withinDeg).toBeGreaterThanOrEqual(2);
    }
  });

  it('an ostium known to 1.5 mm, leaves its view atan(1.5 / distance) with the plane\'s 2 deg', () => {
    const [x, z] = [12, 12];
    const n = ROOT.basalPlane.normalLps;
    const along = x * n[0] + z * n[2];
    const axisMm = Math.sqrt(x * x + z * z - along * along);
    expect(pick(views, 'left-coronary').withinDeg).toBeCloseTo(Math.hypot(2, (Math.atan(1.5 / axisMm) * 180) / Math.PI), 9);
  });

  it('a mirrored patient has mirrored angles', () => {
    const m = (p: Vec3): Vec3 => [-p[0], p[1], p[2]];
    const mirrored = chooseViews(makeRoot({ R: m(R), L: m(L), N: m(N) }), SUPINE);
    for (const role of ['start', 'three-cusps']) {
      expect(pick(mirrored, role).primaryDeg).toBeCloseTo(-pick(views, role).primaryDeg, 9);
      expect(pick(mirrored, role).secondaryDeg).toBeCloseTo(pick(views, role).secondaryDeg, 9);
    }
  });

  it('an angle out of reach is kept, marked, and comes with the nearest one that is in reach', () => {
    const tight = chooseViews(ROOT, { patientPosition: 'HFS', reach: { ...REACH, caudalDeg: 20 } });
    const start = pick(tight, 'start');
    expect(start.reach).toBe(false);
    expect(start.instead!.secondaryDeg).toBeGreaterThanOrEqual(-20);
    expect(start.instead!.awayDeg).toBeGreaterThan(10);
    expect(pick(tight, 'three-cusps').reach).toBe(true);
  });

  it('withholds all angles when the patient was not supine or the data does not say', () => {
    for (const [patientPosition, code] of [['HFP', 'posture-not-supine'], [null, 'posture-not-stated']] as const) {
      const withheld = chooseViews(ROOT, { patientPosition, reach: REACH });
      expect(withheld).toMatchObject({ offered: false, perpendicular: [], chosen: [], reasons: [{ code }] });
    }
  });

  it('refuses three nadirs in one line (CT-17) and reports a missing ostium', () => {
    const flat = { ...ROOT, basalPlane: { ...ROOT.basalPlane, nadirsLps: { R: [0, 0, 0], L: [5, 5, 5], N: [10, 10, 10.001] } } } as unknown as RootSurvey;
    expect(chooseViews(flat, SUPINE).reasons[0]!.code).toBe('nadirs-collinear');
    expect(views.without).toContainEqual(expect.objectContaining({ role: 'right-coronary', code: 'ostium-not-found' }));
  });
});

describe('the error of a view', () => {
  it('is the worked foreshortening of CT-32 [D]', () => {
    const e = measureViewError({ primaryDeg: 10, secondaryDeg: 0 }, [-0.25674, -0.369063, 0.89324], 0);
    expect(90 - Math.abs(e.offPlaneDeg)).toBeCloseTo(71.4052, 3);
    expect(e.visibleShare).toBeCloseTo(0.947797, 5);
  });

  it('opposite walls 25 mm apart at 5 deg part by 2.2 mm (job.md, D-rules)', () => {
    expect(25 * measureViewError({ primaryDeg: 0, secondaryDeg: 5 }, [0, 0, 1], 0).depthPerRadius).toBeCloseTo(2.18, 2);
  });

  it('its interval holds the error of every plane within the tilt', () => {
    const deg = fc.double({ min: -80, max: 80, noNaN: true });
    fc.assert(fc.property(deg, deg, fc.double({ min: 0, max: 8, noNaN: true }), fc.double({ min: 0, max: 6.28, noNaN: true }), (p, s, tilt, turn) => {
      const view = { primaryDeg: p, secondaryDeg: s };
      const n = unit([0.2, -0.3, 0.9]);
      const e = measureViewError(view, n, tilt);
      const u = unit(cross(n, [1, 0, 0]));
      const v = cross(n, u);
      const t = (tilt * Math.PI) / 180;
      const turned = unit([0, 1, 2].map((k) => Math.cos(t) * n[k]! + Math.sin(t) * (Math.cos(turn) * u[k]! + Math.sin(turn) * v[k]!)) as unknown as Vec3);
      const other = measureViewError(view, turned, 0).depthPerRadius;
      expect(other).toBeLessThanOrEqual(e.depthPerRadiusHigh + 1e-9);
      expect(other).toBeGreaterThanOrEqual(e.depthPerRadiusLow - 1e-9);
    }));
  });

  it('the map is smallest along the curve', () => {
    const map = mapViewErrors(ROOT.basalPlane.normalLps, 0);
    map.primaryDeg.forEach((p, c) => {
      const s = findPerpendicularSecondary(ROOT.basalPlane.normalLps, p)!;
      const row = map.secondaryDeg.map((_, r) => map.depthPerRadius[r]![c]!);
      const nearest = map.secondaryDeg.reduce((b, v, r) => (Math.abs(v - s) < Math.abs(map.secondaryDeg[b]! - s) ? r : b), 0);
      if (Math.abs(s) <= 50) expect(row[nearest]).toBeCloseTo(Math.min(...row), 2);
    });
  });
});
