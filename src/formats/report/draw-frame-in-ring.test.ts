import { expect, it } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import type { ExpectedFrame } from '../../core/release/release-types.ts';
import { drawFrameInRing } from './draw-frame-in-ring.ts';

const RING = { heightMm: -3, meanDiameterMm: 24, minDiameterMm: 24, maxDiameterMm: 24, minOverMaxRatio: 1 };
const expected = (gaps: ExpectedFrame['gaps']): ExpectedFrame => ({ depthMm: 3, outlineMm: Array.from({ length: 24 }, () => 12), inflow: RING, waist: RING, gaps });
const picture = { id: 'f', isTraining: true };

it('draws ring and frame to one scale: a frame of 12 mm round a ring of 11.5 mm', () => {
  const svg = drawFrameInRing(makeTestRoot({ diameterMm: 23 }), expected([]), picture)!;
  // Half width 12 + 4 mm on 190 px: R lies up, so the frame's first point is 12 mm above the middle.
  expect(svg).toContain(`M190 ${(190 - (12 * 380) / 32).toFixed(2).replace(/\.?0+$/, '')}`);
  expect(svg).not.toContain('class="hatchbox"');
  expect(svg).toContain('training, invented sizes');
});

it('hatches a gap where it is, also across the R nadir', () => {
  const at = (fromDeg: number, toDeg: number) => drawFrameInRing(makeTestRoot(), expected([{ cusp: 'R', fromDeg, toDeg, heightMm: -1, gapMm: 0.6 }]), picture)!;
  expect(at(40, 70).match(/class="hatchbox"/g)).toHaveLength(1);
  // 340 to 20 deg is a stretch of 40 deg about the top, not of 320: 9 steps of 5 deg, there and back.
  const band = /class="hatchbox"[^>]*d="([^"]*)"/.exec(at(340, 20))![1]!;
  expect(band.match(/[ML]/g)).toHaveLength(18);
});

it('draws nothing without a contour', () => {
  const root = makeTestRoot();
  expect(drawFrameInRing({ ...root, basalRing: { ...root.basalRing, contourLps: [] } }, expected([]), picture)).toBeNull();
});
