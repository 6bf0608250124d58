import { add, cross, dot, scale, sub, type Vec3 } from '../math/vec3.ts';
import { makeRootFrame, type RootFrame } from './root-frame.ts';
import type { BasalPlane, BasalRing } from './root-types.ts';

/**
 * The cylinder frame of a survey: axis through the centre of area of the basal ring along the basal normal, azimuth 0
 * toward the R nadir (as plan.json's root.map). With fewer than 3 contour points the axis goes through `pointLps`.
 */
export function makeSurveyFrame(root: {
  readonly basalPlane: BasalPlane;
  readonly basalRing: Pick<BasalRing, 'contourLps'>;
}): RootFrame {
  const { normalLps, pointLps, nadirsLps } = root.basalPlane;
  const centre = findCentreOfArea(root.basalRing.contourLps, normalLps) ?? pointLps;
  const onPlane = sub(centre, scale(normalLps, dot(sub(centre, pointLps), normalLps)));
  return makeRootFrame(onPlane, normalLps, nadirsLps.R);
}

/** Centre of area of a closed contour that is flat across `normal`; null when it encloses nothing. */
function findCentreOfArea(contour: readonly Vec3[], normal: Vec3): Vec3 | null {
  const first = contour[0];
  if (!first || contour.length < 3) return null;
  let twiceArea = 0;
  let sum: Vec3 = [0, 0, 0];
  for (let i = 1; i + 1 < contour.length; i++) {
    const a = sub(contour[i]!, first);
    const b = sub(contour[i + 1]!, first);
    const part = dot(cross(a, b), normal);
    twiceArea += part;
    sum = add(sum, scale(add(a, b), part / 3));
  }
  return Math.abs(twiceArea) > 1e-9 ? add(first, scale(sum, 1 / twiceArea)) : null;
}
