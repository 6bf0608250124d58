import type { PlanCuts } from '../../core/root/cut-types.ts';
import type { WallTable } from '../../core/root/find-junction.ts';
import type { SurveyDocument } from '../../core/root/survey-document.ts';
import { encodeBase64 } from '../png/encode-base64.ts';

/**
 * The survey document as JSON text; parseSurveyDocument gives it back.
 *
 * Shape     typed arrays as base64 of little-endian values: radii Float32 (to 1e-6 mm), flags and grey levels one byte each
 * Units     mm, LPS
 * Fails     never
 */
export function writeSurveyDocument(document: SurveyDocument): string {
  const { wall, seenWall, isBridged, cuts, ...plain } = document;
  return `${JSON.stringify({ ...plain, wall: packWall(wall), seenWall: packWall(seenWall), isBridged: encodeBase64(isBridged), cuts: packCuts(cuts) })}\n`;
}

function packWall({ radiusMm, openedMm, bentMm, ...size }: WallTable): object {
  return { ...size, radiusMm: packRadii(radiusMm), ...(openedMm ? { openedMm: packRadii(openedMm) } : {}), ...(bentMm ? { bentMm: packRadii(bentMm) } : {}) };
}

function packRadii(values: Float64Array): string {
  const bytes = new Uint8Array(values.length * 4);
  const view = new DataView(bytes.buffer);
  values.forEach((v, i) => view.setFloat32(4 * i, v, true));
  return encodeBase64(bytes);
}

function packCuts({ cuts }: PlanCuts): object {
  return { cuts: cuts.map(({ image, ...cut }) => ({ ...cut, image: { ...image, greyLevels: encodeBase64(image.greyLevels) } })) };
}
