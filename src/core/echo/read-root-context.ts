import { cylinderFromLps, makeRootFrame } from '../root/root-frame.ts';
import type { Cusp, RootSurvey, Xyz } from '../root/root-types.ts';
import { makeFact, type Fact } from '../units/fact.ts';
import type { CommissureAzimuths, EchoContext } from './echo-types.ts';

type MeasuredRoot = Pick<RootSurvey, 'basalPlane' | 'basalRing' | 'sinotubularJunction'>;

/** What an echo is read against and the CT knows: area of a round junction (checks EC-08) and where the commissures stand in the unrolled map. */
export function readRootContext(root: MeasuredRoot | null): Pick<EchoContext, 'junctionAreaCm2' | 'commissuresDeg'> {
  return root ? { junctionAreaCm2: computeJunctionArea(root.sinotubularJunction.diameterMm), commissuresDeg: placeCommissures(root) } : { junctionAreaCm2: null, commissuresDeg: null };
}

function computeJunctionArea({ value, low, high, source, reasons }: Fact): Fact | null {
  if (value === null || low === null || high === null) return null;
  const areaCm2 = (mm: number): number => (Math.PI * (mm / 10) ** 2) / 4;
  return makeFact(areaCm2(value), areaCm2(low), areaCm2(high), 'cm2', 'round sinotubular junction', source.from, { by: source.by, at: source.at }, reasons);
}

/**
 * Azimuths half way between two nadirs: a commissure stands above the middle of the arc between the hinges beside it.
 * Units    degrees, 0 at the R nadir, counter-clockwise seen from the aorta
 * Fails    null where the three nadirs do not go round in the order R, L, N
 */
export function placeCommissures({ basalPlane: { nadirsLps, normalLps }, basalRing: { contourLps } }: Pick<MeasuredRoot, 'basalPlane' | 'basalRing'>): CommissureAzimuths | null {
  if (contourLps.length === 0) return null;
  const sum = contourLps.reduce<Xyz>((s, p) => [s[0] + p[0], s[1] + p[1], s[2] + p[2]], [0, 0, 0]);
  const frame = makeRootFrame([sum[0] / contourLps.length, sum[1] / contourLps.length, sum[2] / contourLps.length], normalLps, nadirsLps.R);
  const azimuthDeg = (cusp: Cusp): number => ((((cylinderFromLps(frame, nadirsLps[cusp]).azimuthRad * 180) / Math.PI) % 360) + 360) % 360;
  const [left, non] = [azimuthDeg('L'), azimuthDeg('N')];
  return left < non ? { rightLeft: left / 2, leftNon: (left + non) / 2, nonRight: (non + 360) / 2 } : null;
}
