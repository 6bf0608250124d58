import type { ContrastRegions, PixelPoint, PixelPolygon } from '../../core/angiogram/contrast-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';

export type ContrastRegionsFailureCode = 'contrast-regions-not-json' | 'contrast-regions-other-format' | 'contrast-region-invalid';
const FORMAT = 'trinadir.contrast-regions/1';
const MOST_POINTS = 2000;

/**
 * Regions of a contrast run: { format, aorta: [[column,row]...], outflow: [...], background?: [...] }.
 * Shape    a polygon of 3 to 2000 points, not closed; whether it lies in the picture is found when the run is there
 * Fails    ContrastRegionsFailureCode; nothing of the file's text is repeated
 */
export function parseContrastRegions(text: string): Result<ContrastRegions, ContrastRegionsFailureCode> {
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    return fail('contrast-regions-not-json', CONTRAST_EN.badRegionsJson, CONTRAST_EN.badRegionsNext);
  }
  const isRecord = (v: unknown): v is Readonly<Record<string, unknown>> => typeof v === 'object' && v !== null && !Array.isArray(v);
  if (!isRecord(content) || content['format'] !== FORMAT || content['aorta'] === undefined || content['outflow'] === undefined) {
    return fail('contrast-regions-other-format', CONTRAST_EN.badRegionsFormat, CONTRAST_EN.badRegionsNext);
  }
  const [aorta, outflow] = [readPolygon(content['aorta']), readPolygon(content['outflow'])];
  const given = content['background'];
  const background = given === undefined || given === null ? null : readPolygon(given);
  for (const [region, polygon] of [['aorta', aorta], ['outflow', outflow], ['background', background]] as const) {
    if (polygon === 'bad') return fail('contrast-region-invalid', formatText(CONTRAST_EN, 'badRegion', { region }), CONTRAST_EN.badRegionNext, { region });
  }
  return succeed({ aorta: aorta as PixelPolygon, outflow: outflow as PixelPolygon, background: background as PixelPolygon | null });
}

function readPolygon(value: unknown): PixelPolygon | 'bad' {
  if (!Array.isArray(value) || value.length < 3 || value.length > MOST_POINTS) return 'bad';
  const points: PixelPoint[] = [];
  for (const each of value as readonly unknown[]) {
    if (!Array.isArray(each) || each.length !== 2 || !each.every((n) => typeof n === 'number' && Number.isFinite(n) && Math.abs(n) < 1e6)) return 'bad';
    points.push([each[0] as number, each[1] as number]);
  }
  return points;
}

/** The regions of an answer or of a person, as a file that is read again to the same polygons. */
export function writeContrastRegions({ aorta, outflow, background }: ContrastRegions): string {
  return `${JSON.stringify({ format: FORMAT, aorta, outflow, ...(background ? { background } : {}) })}\n`;
}
