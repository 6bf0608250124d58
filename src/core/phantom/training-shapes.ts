import { makeSeededShape } from './draw-seeded-shape.ts';
import { fuseRightAndLeft } from './phantom-variants.ts';
import type { CalciumShape, PhantomScan, PhantomShape } from './phantom-types.ts';

/** Named training roots. All sizes are invented. */
export interface TrainingScenario {
  readonly name: string;
  /** What it teaches, one sentence. */
  readonly about: string;
  readonly seed: number;
  change(shape: PhantomShape): PhantomShape;
}

const at = (azimuthDeg: number, heightMm: number, radiusMm: number, semiAxesMm: CalciumShape['semiAxesMm'], place: CalciumShape['place'], leanDeg = 0): CalciumShape =>
  ({ place, azimuthDeg, heightMm, radiusMm, semiAxesMm, leanDeg, attenuationHu: 950 });

export const TRAINING_SCENARIOS: readonly TrainingScenario[] = [
  { name: 'plain-root', about: 'A middle-sized root with nothing in the way: the starting point.', seed: 101, change: (s) => ({ ...s, septalBulge: { ...s.septalBulge, inwardMm: 0 } }) },
  {
    name: 'tapered-outflow', about: 'The outflow tract is a fifth narrower than the ring: a low frame is squeezed upward.', seed: 102,
    change: (s) => ({ ...s, outflow: { ...s.outflow, contour: { ...s.outflow.contour, meanRadiusMm: 0.83 * s.ring.meanRadiusMm } } }),
  },
  {
    name: 'flared-outflow', about: 'The outflow tract widens below the ring: little holds a frame from below.', seed: 103,
    change: (s) => ({ ...s, septalBulge: { ...s.septalBulge, inwardMm: 0 }, outflow: { ...s.outflow, contour: { ...s.outflow.contour, meanRadiusMm: 1.14 * s.ring.meanRadiusMm } } }),
  },
  {
    name: 'septal-bulge', about: 'The septum bulges 4 mm into the outflow tract under the right cusp.', seed: 104,
    change: (s) => ({ ...s, septalBulge: { inwardMm: 4, heightMm: -7, azimuthDeg: 8, sigmaHeightMm: 2.6, sigmaAzimuthDeg: 30 } }),
  },
  {
    name: 'calcified-left-cusp', about: 'Most of the calcium sits in one cusp and reaches toward the left coronary.', seed: 105,
    change: (s) => ({
      ...s,
      calcium: [
        at(s.nadirAzimuthDeg.L, 5.5, 8, [2.4, 4.5, 3.4], 'leaflet', 35), at(s.nadirAzimuthDeg.L - 26, 9, 7.4, [1.8, 2.6, 2.8], 'leaflet', 30),
        at(s.nadirAzimuthDeg.L + 27, 9, 7.2, [1.7, 2.4, 2.6], 'leaflet', 30), at(s.nadirAzimuthDeg.N, 7, 6.5, [1, 1.6, 1.4], 'leaflet', 30),
      ],
    }),
  },
  {
    name: 'outflow-calcium', about: 'A shelf of calcium below the left cusp runs down into the outflow tract.', seed: 106,
    change: (s) => ({ ...s, calcium: [...s.calcium.filter((c) => c.place === 'leaflet'), at(s.nadirAzimuthDeg.L + 20, -3.5, s.ring.meanRadiusMm - 0.6, [2.1, 3.4, 3.2], 'outflow')] }),
  },
  {
    name: 'low-left-coronary', about: 'The left coronary leaves 9 mm above the ring out of a narrow sinus.', seed: 107,
    change: (s) => ({ ...s, sinusDepthMm: { ...s.sinusDepthMm, L: 3 }, coronaries: { ...s.coronaries, left: s.coronaries.left && { ...s.coronaries.left, heightMm: 9 } } }),
  },
  { name: 'steep-root', about: 'The basal plane stands at 66 degrees to the horizontal.', seed: 108, change: (s) => ({ ...s, pose: { ...s.pose, angulationDeg: 66, turn: { axisLps: [0, 0, 1], angleDeg: 0 } } }) },
  { name: 'large-oval-ring', about: 'A large ring, half as long again one way as the other.', seed: 109, change: (s) => ({ ...s, ring: { ...s.ring, meanRadiusMm: 14.2, ellipticity: 1.42, waves: [] }, ascending: { ...s.ascending, radiusMm: Math.max(19, s.ascending.radiusMm) }, junction: { ...s.junction, contour: { ...s.junction.contour, meanRadiusMm: 15.8 } } }) },
  { name: 'fused-cusps', about: 'Right and left cusp are grown together: a root that does not fit the three-cusp plane and must be marked by hand.', seed: 110, change: fuseRightAndLeft },
];

/** A field in which the scan check finds nothing cut off. */
const FIELD_MM = 130;

/** The named root with its scan; null when there is none of that name. */
export function makeTrainingShape(name: string): { readonly shape: PhantomShape; readonly scan: PhantomScan } | null {
  const found = TRAINING_SCENARIOS.find((s) => s.name === name);
  if (!found) return null;
  const { shape, scan } = makeSeededShape(found.seed);
  const [pixelMm, lineMm] = scan.spacingMm;
  const dims = [Math.ceil(FIELD_MM / pixelMm), Math.ceil(FIELD_MM / lineMm), scan.dims[2]] as const;
  return { shape: found.change(shape), scan: { ...scan, dims } };
}
