import { z } from 'zod';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { SurveyDocument } from '../../core/root/survey-document.ts';
import { decodeBase64 } from '../png/decode-base64.ts';
import { readIssue } from '../tables/read-issue.ts';

export type SurveyReadFailureCode = 'survey-not-json' | 'survey-invalid' | 'survey-other-format';

const number = z.number();
const xyz = z.tuple([number, number, number]);
const reason = z.strictObject({ code: z.string(), text: z.string(), next: z.string() });
const count = z.number().int().positive().max(100000);
const packed = z.string().transform((text, ctx) => {
  const bytes = decodeBase64(text);
  if (bytes) return bytes;
  ctx.addIssue({ code: 'custom', message: 'base64' });
  return z.NEVER;
});
const radii = packed.transform((bytes) => {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  return Float64Array.from({ length: bytes.byteLength >> 2 }, (_, i) => view.getFloat32(4 * i, true));
});
const wall = z.strictObject({ heights: count, azimuths: count, lowMm: number, stepMm: number, radiusMm: radii, openedMm: radii.optional(), bentMm: radii.optional() })
  .refine((w) => w.radiusMm.length === w.heights * w.azimuths && [w.openedMm, w.bentMm].every((t) => !t || t.length === w.radiusMm.length), 'one radius for each height and azimuth');
const point = z.tuple([number, number]);
const mark = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('ring'), points: z.array(point) }),
  z.strictObject({ kind: z.literal('wall'), points: z.array(point) }),
  z.strictObject({ kind: z.literal('plane'), level: z.enum(['basal', 'junction']), from: point, to: point }),
  z.strictObject({ kind: z.literal('axis'), from: point, to: point }),
  z.strictObject({ kind: z.literal('nadir'), cusp: z.enum(['R', 'L', 'N']), at: point, offMm: number }),
  z.strictObject({ kind: z.literal('ostium'), side: z.enum(['left', 'right']), at: point, offMm: number }),
]);
const image = z.strictObject({ greyLevels: packed, widthPx: count, heightPx: count, lowHu: number, highHu: number })
  .refine((i) => i.greyLevels.length === i.widthPx * i.heightPx, 'one grey level for each pixel');
const cut = z.strictObject({
  role: z.enum(['basal', 'outflow', 'sinus', 'nadir-R', 'nadir-L', 'nadir-N']), heightMm: number.nullable(),
  plane: z.strictObject({ originLps: xyz, acrossLps: xyz, downLps: xyz, widthMm: number, heightMm: number }), image, marks: z.array(mark),
});
const SURVEY = z.strictObject({
  format: z.literal('trinadir.survey/1'), madeBy: z.string(), frameOfReferenceUid: z.string().nullable(), patientPosition: z.string().nullable(),
  frame: z.strictObject({ originLps: xyz, normalLps: xyz, uLps: xyz, vLps: xyz }),
  wall, seenWall: wall, isBridged: packed, blood: z.looseObject({ levelHu: number, perMmHu: number, noiseHu: number }), blurMm: number, voxelMm: number,
  nadirSdMm: z.strictObject({ R: number, L: number, N: number }), isMarked: z.boolean(), doubts: z.array(reason), valve: z.array(reason),
  cuts: z.strictObject({ cuts: z.array(cut) }),
}).refine((s) => s.isBridged.length === s.seenWall.radiusMm.length, { path: ['isBridged'], message: 'one flag for each radius' });

/**
 * The survey document from its text.
 * Fails     survey-not-json, survey-other-format, survey-invalid (names the first field)
 */
export function parseSurveyDocument(text: string): Result<SurveyDocument, SurveyReadFailureCode> {
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    return fail('survey-not-json', 'The survey document is not JSON.', 'Plan again.');
  }
  const parsed = SURVEY.safeParse(content);
  if (parsed.success) return succeed(parsed.data as SurveyDocument);
  const { field, problem } = readIssue(parsed.error);
  if (field === 'format') return fail('survey-other-format', 'This is no survey document of this format.', 'Plan again with this version.');
  return fail('survey-invalid', `The survey document does not fit at ${field} (${problem}).`, 'Plan again: a survey is not edited by hand.', { field, problem });
}
