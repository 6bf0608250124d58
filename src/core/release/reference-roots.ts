import { DEFAULT_BLENDS } from './wall-stiffness.ts';
import type { AnalyticRoot, WallBump } from './contact-surface.ts';

/** The six closed-form roots of mechanics 6: annulus radius 11.5 mm, so that the 26 mm frame is 13 % oversized. */
export const REFERENCE_ROOT_NAMES = ['straight', 'tapered', 'flared', 'bulge', 'sigmoid', 'calcium'] as const;
export type ReferenceRootName = (typeof REFERENCE_ROOT_NAMES)[number];

const SEPTAL_RAD = 0;
/** Direction of the block against the septum: not stated in the reference, fitted (docs/methods/release.md). */
export const BLOCK_RAD = 1.942438;

const STRAIGHT: AnalyticRoot = {
  annulusMm: 11.5,
  outflow5Mm: 11.5,
  outflow10Mm: 11.5,
  bulge: null,
  calcium: null,
  narrowing: 0.07,
  leafletMm: 9,
  sinusMm: 16,
  junctionMm: 14.5,
  ascendingMm: 16.5,
  septalRad: SEPTAL_RAD,
  blends: DEFAULT_BLENDS,
};
const makeBump = (inwardMm: number, centreMm: number, spreadMm: number, spreadDeg: number, azimuthRad: number): WallBump => ({
  inwardMm, centreMm, spreadMm, spreadDeg, azimuthRad,
});

export const REFERENCE_ROOTS: Readonly<Record<ReferenceRootName, AnalyticRoot>> = {
  straight: STRAIGHT,
  tapered: { ...STRAIGHT, outflow5Mm: 10.8, outflow10Mm: 10 },
  flared: { ...STRAIGHT, outflow5Mm: 12, outflow10Mm: 12.8 },
  bulge: { ...STRAIGHT, bulge: makeBump(3, -6, 3.5, 35, SEPTAL_RAD) },
  sigmoid: { ...STRAIGHT, outflow5Mm: 11.8, outflow10Mm: 11.8, bulge: makeBump(3.5, -9, 4.5, 50, SEPTAL_RAD) },
  calcium: { ...STRAIGHT, calcium: makeBump(2.5, -1.5, 2.5, 22, BLOCK_RAD) },
};
