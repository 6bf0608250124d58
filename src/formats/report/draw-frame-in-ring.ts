import type { ExpectedFrame } from '../../core/release/release-types.ts';
import { makeSurveyFrame } from '../../core/root/make-survey-frame.ts';
import { cylinderFromLps } from '../../core/root/root-frame.ts';
import { CUSPS, type RootSurvey } from '../../core/root/root-types.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawPath, drawText, wrapPicture } from './svg-parts.ts';

const SIDE = 380;
const RAD = Math.PI / 180;

/**
 * The basal ring with the expected outline of the released frame, dashed, and the stretches of wall it stays off,
 * hatched. Seen from the aorta, R on top, as the ring sheet.
 * Shape     SVG text; null when the ring has no contour or nothing was forecast
 * Source    docs/methods/pictures.md
 */
export function drawFrameInRing(root: RootSurvey, expected: ExpectedFrame, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const ring = root.basalRing.contourLps;
  if (ring.length < 3 || expected.outlineMm.length < 3) return null;
  const frame = makeSurveyFrame(root);
  const halfMm = Math.ceil(Math.max(...ring.map((p) => cylinderFromLps(frame, p).radiusMm), ...expected.outlineMm)) + 4;
  const scale = SIDE / (2 * halfMm);
  const at = (azimuthRad: number, radiusMm: number): readonly [number, number] => [SIDE / 2 - radiusMm * Math.sin(azimuthRad) * scale, SIDE / 2 - radiusMm * Math.cos(azimuthRad) * scale];
  const parts: string[] = [];
  for (const gap of expected.gaps) {
    const to = gap.toDeg < gap.fromDeg ? gap.toDeg + 360 : gap.toDeg;
    const steps = Math.max(2, Math.ceil((to - gap.fromDeg) / 5));
    const angles = Array.from({ length: steps + 1 }, (_, i) => (gap.fromDeg + ((to - gap.fromDeg) * i) / steps) * RAD);
    const outer = angles.map((a) => at(a, halfMm - 2.6));
    const inner = [...angles].reverse().map((a) => at(a, halfMm - 4.2));
    parts.push(`<path class="hatchbox" fill="url(#${picture.id}-hatch)" d="${drawPath([...outer, ...inner], true)}"/>`);
  }
  const contour = ring.map((p) => {
    const c = cylinderFromLps(frame, p);
    return at(c.azimuthRad, c.radiusMm);
  });
  parts.push(`<path class="bold" d="${drawPath(contour, true)}"/>`);
  const n = expected.outlineMm.length;
  parts.push(`<path class="cusp-L" d="${drawPath(expected.outlineMm.map((r, i) => at((2 * Math.PI * i) / n, r)), true)}"/>`);
  for (const cusp of CUSPS) {
    const { azimuthRad, radiusMm } = cylinderFromLps(frame, root.basalPlane.nadirsLps[cusp]);
    const [x, y] = at(azimuthRad, radiusMm);
    const [lx, ly] = at(azimuthRad, Math.max(4, radiusMm - 3));
    parts.push(`<circle class="solid" cx="${x.toFixed(2)}" cy="${y.toFixed(2)}" r="5"/>`, drawText('letter halo', lx, ly + 8, cusp));
  }
  parts.push(drawText('soft', 8, 18, REPORT_EN.sheetSeen));
  parts.push(`<path class="line" d="M12 ${SIDE + 6}v8h${(10 * scale).toFixed(2)}v-8"/>`, drawText('', 12 + 10 * scale + 8, SIDE + 18, REPORT_EN.scaleBar));
  return wrapPicture({ ...picture, width: SIDE, height: SIDE + 44, title: RELEASE_EN.sheetTitle, description: RELEASE_EN.sheetCaption }, parts.join(''));
}
