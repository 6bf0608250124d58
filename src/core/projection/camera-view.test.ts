import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cross, dot, norm, sub, type Vec3 } from '../math/vec3.ts';
import { measureViewAngle, makeViewAxes, nameView, readView, turnToFront } from './camera-view.ts';

const angle = (low: number, high: number) => fc.double({ min: low, max: high, noNaN: true });

describe('camera angles follow DICOM PS3.3 C.8.7.5', () => {
  // Checks CT-18 [V, PS3.3]: worked by hand from "+90 primary = patient left, +90 secondary = head, 0/0 = before the chest".
  it.each([
    [0, 0, [0, -1, 0]], [90, 0, [1, 0, 0]], [0, 90, [0, 0, 1]], [30, 20, [0.469846, -0.813798, 0.34202]], [-30, 25, [-0.453154, -0.784886, 0.422618]],
  ] as const)('primary %d, secondary %d looks from the detector direction given there', (primaryDeg, secondaryDeg, d) => {
    const { beamLps } = makeViewAxes({ primaryDeg, secondaryDeg });
    d.forEach((v, i) => expect(beamLps[i]).toBeCloseTo(v, 5)); // six digits are printed
  });

  it('a double angle is not the fixed-axis order of rotations (CT-20)', () => {
    // Secondary turned about the patient's own left axis after primary: the wrong order, 31.5667 / 17.2294.
    const [p, s] = [Math.PI / 6, Math.PI / 9];
    const wrong: Vec3 = [Math.sin(p), -Math.cos(p) * Math.cos(s), Math.cos(p) * Math.sin(s)];
    expect(readView(wrong).primaryDeg).toBeCloseTo(31.5667, 3);
    expect(readView(wrong).secondaryDeg).toBeCloseTo(17.2294, 3);
    expect(measureViewAngle(readView(wrong), { primaryDeg: 30, secondaryDeg: 20 })).toBeGreaterThan(2);
  });

  it('reads back every angle it makes, and the picture axes are right-handed toward the reader', () => {
    fc.assert(fc.property(angle(-179.9, 179.9), angle(-89.9, 89.9), (primaryDeg, secondaryDeg) => {
      const { beamLps, rightLps, upLps } = makeViewAxes({ primaryDeg, secondaryDeg });
      const back = readView(beamLps);
      expect(back.primaryDeg).toBeCloseTo(primaryDeg, 7);
      expect(back.secondaryDeg).toBeCloseTo(secondaryDeg, 7);
      expect(norm(sub(cross(rightLps, upLps), beamLps))).toBeLessThan(1e-12);
      expect(Math.abs(dot(rightLps, upLps))).toBeLessThan(1e-12);
    }));
  });

  it('the patient lies in the picture as the trade hangs it: left to the right, head to the top', () => {
    const { rightLps, upLps } = makeViewAxes({ primaryDeg: 0, secondaryDeg: 0 });
    expect(rightLps).toEqual([1, 0, 0]);
    expect(upLps[2]).toBe(1);
  });

  it('measures the angle of a pair (job.md D 24) and names angles', () => {
    expect(measureViewAngle({ primaryDeg: 10, secondaryDeg: 10 }, { primaryDeg: -15, secondaryDeg: -20 })).toBeCloseTo(38.8, 1);
    expect(nameView({ primaryDeg: -11.9, secondaryDeg: -24.9 })).toBe('RAO 12 CAU 25');
    expect(nameView({ primaryDeg: 0, secondaryDeg: 0.2 })).toBe('LAO 0 CRA 0');
  });

  it('turns a beam from behind to the front, and leaves it there', () => {
    fc.assert(fc.property(angle(-1, 1), angle(-1, 1), angle(-1, 1), (x, y, z) => {
      fc.pre(Math.hypot(x, y, z) > 0.01);
      const front = turnToFront([x, y, z]);
      expect(front[1]).toBeLessThanOrEqual(1e-12);
      expect(turnToFront(front)).toEqual(front);
      expect(turnToFront([-x, -y, -z]).map((v) => v + 0)).toEqual(front.map((v) => v + 0));
    }));
  });
});
