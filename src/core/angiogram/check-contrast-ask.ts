import { fail, succeed, type Result } from '../result.ts';
import { CONTRAST_EN } from '../text/contrast-en.ts';
import { formatText } from '../text/catalogue.ts';
import { CONTRAST_LIMITS } from './contrast-limits.ts';
import type { ContrastAsk, ContrastFailureCode, ContrastRegions, ContrastRun, PixelPoint, PixelPolygon } from './contrast-types.ts';
import { listRegionPixels } from './region-pixels.ts';

const MOST_POINTS = 2000;
const isPoint = (p: PixelPoint): boolean => Array.isArray(p) && p.length === 2 && Number.isFinite(p[0]) && Number.isFinite(p[1]);

/**
 * Whether run and question can be read at all. What spoils the answer but not the reading is found later and named there.
 * Fails   ContrastFailureCode
 */
export function checkContrastAsk(run: ContrastRun, ask: ContrastAsk): Result<true, ContrastFailureCode> {
  const pixels = run.rows * run.columns;
  const { fewestFrames, fewestSide } = CONTRAST_LIMITS;
  if (!(Number.isInteger(run.rows) && Number.isInteger(run.columns) && run.rows >= fewestSide && run.columns >= fewestSide && run.bits >= 8 && run.bits <= 16)) {
    return fail('contrast-size-invalid', formatText(CONTRAST_EN, 'badSize', { columns: run.columns, rows: run.rows, bits: run.bits }), CONTRAST_EN.badSizeNext);
  }
  const uneven = run.frames.findIndex((f) => f.length !== pixels);
  if (uneven >= 0) return fail('contrast-frames-invalid', formatText(CONTRAST_EN, 'badFrame', { frame: uneven + 1 }), CONTRAST_EN.badFrameNext, { frame: uneven + 1 });
  if (run.frames.length < fewestFrames) return fail('contrast-frames-too-few', formatText(CONTRAST_EN, 'fewFrames', { frames: run.frames.length, least: fewestFrames }), CONTRAST_EN.fewFramesNext, { frames: run.frames.length });
  const times = run.frameTimesMs;
  if (times && (times.length !== run.frames.length || times.some((t, i) => !Number.isFinite(t) || (i > 0 && !(t > times[i - 1]!))))) {
    return fail('contrast-times-invalid', CONTRAST_EN.badTimes, CONTRAST_EN.badTimesNext);
  }
  return checkNumbers(run, ask) ?? (ask.regions ? checkRegions(run, ask.regions) : succeed(true));
}

function checkNumbers(run: ContrastRun, { frames, ratePerMin, beatTimesMs, framesPerS, cycles, marks }: ContrastAsk): Result<never, ContrastFailureCode> | null {
  const [low, high] = CONTRAST_LIMITS.ratePerMin;
  if (frames) {
    const [from, to] = frames;
    if (!(Number.isInteger(from) && Number.isInteger(to) && from >= 1 && to <= run.frames.length && to - from >= 2)) {
      return fail('contrast-range-invalid', formatText(CONTRAST_EN, 'badRange', { frames: run.frames.length }), CONTRAST_EN.badRangeNext, { frames: run.frames.length });
    }
  }
  const isRate = (v: number | undefined): boolean => v === undefined || (v >= low && v <= high);
  const isBeats = beatTimesMs === undefined || (beatTimesMs.length >= 2 && beatTimesMs.length < 10_000 && beatTimesMs.every((t, i) => Number.isFinite(t) && (i === 0 || t > beatTimesMs[i - 1]!)));
  const isSpeed = framesPerS === undefined || (framesPerS > 0.5 && framesPerS <= 120);
  const isCount = cycles === undefined || (cycles >= 1 && cycles <= 20 && Number.isInteger(cycles));
  if (!(isRate(ratePerMin) && isBeats && isSpeed && isCount)) return fail('contrast-rate-invalid', formatText(CONTRAST_EN, 'badRate', { low, high }), CONTRAST_EN.badRateNext);
  if (marks && !([...marks.inflow, ...marks.axis].every(isPoint) && distance(...marks.inflow) >= 4 && distance(...marks.axis) >= 4)) {
    return fail('contrast-marks-invalid', CONTRAST_EN.badMarks, CONTRAST_EN.badMarksNext);
  }
  return null;
}
const distance = (a: PixelPoint, b: PixelPoint): number => Math.hypot(a[0] - b[0], a[1] - b[1]);

/**
 * Regions hold enough pixels, lie in the picture and do not share pixels.
 * Fails   contrast-region-invalid, contrast-region-outside, contrast-region-small, contrast-regions-overlap
 */
export function checkRegions({ rows, columns }: Pick<ContrastRun, 'rows' | 'columns'>, regions: ContrastRegions): Result<true, ContrastFailureCode> {
  const named: [string, PixelPolygon][] = [['aorta', regions.aorta], ['outflow', regions.outflow], ...(regions.background ? [['background', regions.background] as [string, PixelPolygon]] : [])];
  const taken = new Set<number>();
  for (const [region, polygon] of named) {
    if (!(Array.isArray(polygon) && polygon.length >= 3 && polygon.length <= MOST_POINTS && polygon.every(isPoint))) {
      return fail('contrast-region-invalid', formatText(CONTRAST_EN, 'badRegion', { region }), CONTRAST_EN.badRegionNext, { region });
    }
    if (polygon.some(([c, r]) => c < -0.5 || r < -0.5 || c > columns - 0.5 || r > rows - 0.5)) {
      return fail('contrast-region-outside', formatText(CONTRAST_EN, 'regionOutside', { region, columns, rows }), CONTRAST_EN.regionOutsideNext, { region });
    }
    const pixels = listRegionPixels(polygon, columns, rows);
    if (pixels.length < CONTRAST_LIMITS.fewestRegionPixels) {
      return fail('contrast-region-small', formatText(CONTRAST_EN, 'regionSmall', { region, pixels: pixels.length, least: CONTRAST_LIMITS.fewestRegionPixels }), CONTRAST_EN.regionSmallNext, { region, pixels: pixels.length });
    }
    let shared = 0;
    for (const p of pixels) if (taken.has(p)) shared++;
    if (shared > 0) return fail('contrast-regions-overlap', formatText(CONTRAST_EN, 'regionsOverlap', { pixels: shared }), CONTRAST_EN.regionsOverlapNext, { pixels: shared });
    for (const p of pixels) taken.add(p);
  }
  return succeed(true);
}
