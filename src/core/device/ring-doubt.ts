import { normalCdf } from '../math/normal-cdf.ts';
import type { BasalRing } from '../root/root-types.ts';
import type { Fact } from '../units/fact.ts';
import type { DeviceSize } from './device-types.ts';

/**
 * Correlation of the errors of perimeter-derived and area-derived diameter: one plane and one edge make both.
 * Measured on 58 seeded phantoms (docs/methods/sizing.md); independence would understate a shared error.
 */
export const RING_ERROR_CORRELATION = 0.84;

export interface RingDoubt {
  readonly perimeterMm: number;
  readonly perimeterSdMm: number;
  readonly areaDiameterMm: number;
  readonly areaDiameterSdMm: number;
  readonly meanDiameterMm: number;
  readonly areaMm2: number;
}

const sdOf = (fact: Fact): number => (fact.high! - fact.low!) / 3.92;

/** Ring measures with their SDs; null where one of them was refused. */
export function readRingDoubt(ring: BasalRing): RingDoubt | null {
  const facts = [ring.perimeterMm, ring.areaMm2, ring.areaDiameterMm, ring.minDiameterMm, ring.maxDiameterMm];
  if (facts.some((f) => f.value === null)) return null;
  return {
    perimeterMm: ring.perimeterMm.value!, perimeterSdMm: sdOf(ring.perimeterMm),
    areaDiameterMm: ring.areaDiameterMm.value!, areaDiameterSdMm: sdOf(ring.areaDiameterMm),
    meanDiameterMm: (ring.minDiameterMm.value! + ring.maxDiameterMm.value!) / 2, areaMm2: ring.areaMm2.value!,
  };
}

/**
 * Probability that true perimeter and true area-derived diameter both lie in the ranges of a size.
 *
 * Equation  bivariate normal about the measured pair; integral over the perimeter of
 *           phi(x) [Phi((b - rho x) / q) - Phi((a - rho x) / q)], q = sqrt(1 - rho^2), Simpson with 400 intervals
 * Source    docs/methods/sizing.md
 * Accuracy  2e-6 against rho = 0 and rho -> 1, where the answer is a product or a minimum of one-dimensional ones
 */
export function computeFitProbability(ring: RingDoubt, size: Pick<DeviceSize, 'basalPerimeterMm' | 'basalDiameterMm'>, correlation = RING_ERROR_CORRELATION): number {
  const sp = Math.max(1e-9, ring.perimeterSdMm);
  const sd = Math.max(1e-9, ring.areaDiameterSdMm);
  const cut = (v: number): number => Math.max(-7, Math.min(7, v));
  const from = cut((size.basalPerimeterMm[0] - ring.perimeterMm) / sp);
  const to = cut((size.basalPerimeterMm[1] - ring.perimeterMm) / sp);
  const a = (size.basalDiameterMm[0] - ring.areaDiameterMm) / sd;
  const b = (size.basalDiameterMm[1] - ring.areaDiameterMm) / sd;
  if (!(to > from)) return 0;
  const q = Math.sqrt(1 - correlation * correlation);
  const at = (x: number): number => (Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI)) * (normalCdf((b - correlation * x) / q) - normalCdf((a - correlation * x) / q));
  const n = 400;
  const h = (to - from) / n;
  let sum = at(from) + at(to);
  for (let i = 1; i < n; i++) sum += (i % 2 === 1 ? 4 : 2) * at(from + i * h);
  return Math.max(0, Math.min(1, (sum * h) / 3));
}
