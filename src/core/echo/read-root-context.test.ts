import { describe, expect, test } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import { placeCommissures, readRootContext } from './read-root-context.ts';

describe('what an echo is read against of the CT', () => {
  const ring = Array.from({ length: 72 }, (_, i): [number, number, number] => [12 * Math.cos((i * Math.PI) / 36), 12 * Math.sin((i * Math.PI) / 36), 0]);
  const at = (deg: number): [number, number, number] => [12 * Math.cos((deg * Math.PI) / 180), 12 * Math.sin((deg * Math.PI) / 180), 0];
  const place = (r: number, l: number, n: number) => placeCommissures({ basalPlane: { pointLps: [0, 0, 0], normalLps: [0, 0, 1], nadirsLps: { R: at(r), L: at(l), N: at(n) }, tiltUncertaintyDeg: 1, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } }, basalRing: { contourLps: ring } as never });

  test('even cusps stand at 60, 180 and 300 degrees, uneven ones half way between their hinges, however the patient lies', () => {
    for (const turned of [0, 37, 200]) {
      const even = place(turned, turned + 120, turned + 240)!;
      expect([even.rightLeft, even.leftNon, even.nonRight].map((d) => Math.round(d * 1e6) / 1e6)).toEqual([60, 180, 300]);
      const uneven = place(turned, turned + 100, turned + 250)!;
      expect([uneven.rightLeft, uneven.leftNon, uneven.nonRight].map((d) => Math.round(d * 1e6) / 1e6)).toEqual([50, 175, 305]);
    }
  });
  test('nadirs that go round the other way have no commissures', () => expect(place(0, 240, 120)).toBeNull());
  test('the junction of so many mm is a round area with its band; without a root nothing is known', () => {
    const root = makeTestRoot({ diameterMm: 23 });
    const { junctionAreaCm2 } = readRootContext(root);
    const mm = root.sinotubularJunction.diameterMm.value!;
    expect(junctionAreaCm2!.value).toBeCloseTo((Math.PI * (mm / 10) ** 2) / 4, 12); // binary
    expect(readRootContext(null)).toEqual({ junctionAreaCm2: null, commissuresDeg: null });
  });
});
