import { isCameraView } from '../../core/projection/camera-view.ts';
import type { Clicks, DepthFrame, DepthMarks, FrameCalibration, PicturePoint } from '../../core/projection/depth-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';

export type FramesFailureCode =
  | 'frames-not-json' | 'frames-other-format' | 'frames-missing' | 'frames-too-many' | 'frames-invalid' | 'frame-angles-missing' | 'view-out-of-range'
  | 'frame-uncalibrated' | 'cusp-n-missing' | 'inflow-missing' | 'mark-invalid' | 'mark-not-finite' | 'click-noise-invalid';

const MOST_FRAMES = 12;
const MOST_CLICKS = 100;

/** A failure of one frame; its number is added where frames are counted. */
type Bad = Result<never, FramesFailureCode>;
interface Fields { readonly [key: string]: unknown }
const isFields = (v: unknown): v is Fields => typeof v === 'object' && v !== null && !Array.isArray(v);
const isAbsent = (v: unknown): boolean => v === undefined || v === null;

/**
 * frames.json: marked fluoroscopy frames, as the contract has them, with the additions of docs/decisions/0026.
 *
 * Shape     a point is [column, row]; where a point may stand, a list of points is its repeated clicks
 * Units     deg, mm (pixelMm at the detector unless pixelAt says "isocentre"), pixels
 * Fails     FramesFailureCode, with the number of the frame as evidence; nothing of the file's text is repeated
 */
export function parseFrames(text: string): Result<readonly DepthFrame[], FramesFailureCode> {
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    // NaN and Infinity are no JSON, but some programs write them: said as what they are.
    if (/[[:,]\s*-?(NaN|Infinity)\b/.test(text)) return fail('mark-not-finite', 'The file of frames holds NaN or Infinity, which is no number.', 'Mark the frame again: every mark is [column, row] in pixels.');
    return fail('frames-not-json', 'The file of frames is not JSON.', 'Give a file of the form { "frames": [ ... ] } (docs/methods/depth.md).');
  }
  if (!isFields(content)) return fail('frames-other-format', 'The file of frames is not an object with "frames".', 'Give a file of the form { "frames": [ ... ] } (docs/methods/depth.md).');
  if (!isAbsent(content['format']) && content['format'] !== 'trinadir.frames/1') return fail('frames-other-format', 'The file of frames states another format.', 'Give trinadir.frames/1, or leave "format" out.');
  const list = content['frames'];
  if (!Array.isArray(list)) return fail('frames-other-format', 'The file has no list "frames".', 'Give a file of the form { "frames": [ ... ] } (docs/methods/depth.md).');
  if (list.length === 0) return fail('frames-missing', 'The list of frames is empty.', 'Mark one frame at least; two at least 30 degrees apart correct the view.');
  if (list.length > MOST_FRAMES) return fail('frames-too-many', `There are ${list.length} frames; ${MOST_FRAMES} are the most that are read.`, 'Choose the frames of one moment.', { frames: list.length });
  const frames: DepthFrame[] = [];
  for (const [i, entry] of list.entries()) {
    const frame = readFrame(entry);
    if (!frame.ok) {
      const { code, message, nextStep, evidence } = frame.failure;
      return fail(code, `Frame ${i + 1}: ${message}`, nextStep, { ...evidence, frame: i + 1 });
    }
    frames.push(frame.value);
  }
  return succeed(frames);
}

function readFrame(entry: unknown): Result<DepthFrame, FramesFailureCode> {
  if (!isFields(entry)) return fail('frames-invalid', 'it is no object.', 'Each frame holds its angles, its distances, its pixel size and its marks.');
  const [primaryDeg, secondaryDeg] = [entry['primaryDeg'], entry['secondaryDeg']];
  if (typeof primaryDeg !== 'number' || typeof secondaryDeg !== 'number' || !Number.isFinite(primaryDeg + secondaryDeg)) {
    return fail('frame-angles-missing', 'its primary or secondary angle is missing.', 'Give both angles as the C-arm shows them: LAO and cranial positive.');
  }
  const view = { primaryDeg, secondaryDeg };
  if (!isCameraView(view)) return fail('view-out-of-range', 'the primary angle runs from -180 to 180 and the secondary from -90 to 90 degrees.', 'Give the angles of the frame as the C-arm shows them: LAO and cranial positive.');
  const marks = entry['marks'];
  if (!isFields(marks)) return fail('cusp-n-missing', 'it has no marks.', 'Mark the nadir of the N cusp and both ends of the inflow edge.');
  const calibration = readCalibration(entry, marks);
  if (!calibration.ok) return calibration;
  const read = readMarks(marks);
  if (!read.ok) return read;
  const sizePx = readSize(entry);
  if (!sizePx.ok) return sizePx;
  const clickSdPx = entry['clickSdPx'];
  if (!isAbsent(clickSdPx) && !(typeof clickSdPx === 'number' && clickSdPx >= 0 && clickSdPx <= 100)) return fail('click-noise-invalid', 'clickSdPx must be a number from 0 to 100.', 'State the SD of a click in pixels, or leave it out.');
  return succeed({ view, calibration: calibration.value, sizePx: sizePx.value, marks: read.value, clickSdPx: typeof clickSdPx === 'number' ? clickSdPx : null });
}

function readCalibration(entry: Fields, marks: Fields): Result<FrameCalibration, FramesFailureCode> {
  const length = (key: string): number | null => {
    const v = entry[key];
    return typeof v === 'number' && Number.isFinite(v) && v > 0 ? v : null;
  };
  const [sourceToImageMm, sourceToPatientMm, pixelMm, sizeMm] = [length('sourceToImageMm'), length('sourceToPatientMm'), length('pixelMm'), length('knownSizeMm')];
  if (!isAbsent(entry['knownSizeMm'])) {
    if (sizeMm === null) return fail('frame-uncalibrated', 'knownSizeMm must be a length above 0.', 'Give the known size in mm.');
    const ends = readPair(marks['knownSize'], 'knownSize');
    if (ends === null) return fail('frame-uncalibrated', 'knownSizeMm is given, but its two ends are not marked.', 'Mark both ends of the known length as marks.knownSize.');
    return ends.ok ? succeed({ by: 'known-size', sizeMm, ends: ends.value, sourceToPatientMm }) : ends;
  }
  if (sourceToImageMm === null || sourceToPatientMm === null || pixelMm === null) {
    return fail('frame-uncalibrated', 'sourceToImageMm, sourceToPatientMm and pixelMm are needed, each a length above 0.', 'Take them from the picture\'s header, or mark a length of known size (knownSizeMm and marks.knownSize).');
  }
  const pixelAt = entry['pixelAt'];
  if (!isAbsent(pixelAt) && pixelAt !== 'detector' && pixelAt !== 'isocentre') return fail('frame-uncalibrated', 'pixelAt is "detector" or "isocentre".', 'Say where pixelMm holds; without it the detector is meant.');
  return succeed({ by: 'geometry', sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt: pixelAt === 'isocentre' ? 'isocentre' : 'detector' });
}

function readMarks(marks: Fields): Result<DepthMarks, FramesFailureCode> {
  if (isAbsent(marks['cuspN']) || (Array.isArray(marks['cuspN']) && marks['cuspN'].length === 0)) return fail('cusp-n-missing', 'the N cusp is not marked.', 'Mark the nadir of the N cusp, or the tip of the pigtail that lies in it.');
  const cuspN = readClicks(marks['cuspN'], 'cuspN');
  if (!cuspN.ok) return cuspN;
  const inflow = readPair(marks['frameInflow'], 'frameInflow');
  if (inflow === null) return fail('inflow-missing', 'the two ends of the inflow edge are not marked.', 'Mark both ends of the lower edge of the frame.');
  if (!inflow.ok) return inflow;
  const axis = readPair(marks['frameAxis'], 'frameAxis');
  if (axis !== null && !axis.ok) return axis;
  const others: { cuspR?: Clicks; cuspL?: Clicks } = {};
  for (const key of ['cuspR', 'cuspL'] as const) {
    if (isAbsent(marks[key])) continue;
    const clicks = readClicks(marks[key], key);
    if (!clicks.ok) return clicks;
    others[key] = clicks.value;
  }
  return succeed({ cuspN: cuspN.value, ...others, frameInflow: inflow.value, frameAxis: axis?.value ?? null });
}

/** Two points, each one or several clicks; null: absent or not two. */
function readPair(value: unknown, key: string): Result<readonly [Clicks, Clicks], FramesFailureCode> | null {
  if (!Array.isArray(value) || value.length !== 2) return null;
  const [one, two] = [readClicks(value[0], key), readClicks(value[1], key)];
  if (!one.ok) return one;
  return two.ok ? succeed([one.value, two.value]) : two;
}

function readClicks(value: unknown, key: string): Result<Clicks, FramesFailureCode> {
  const list: unknown[] = Array.isArray(value) && Array.isArray(value[0]) ? value : [value];
  if (list.length > MOST_CLICKS) return failMark(key, `has more than ${MOST_CLICKS} clicks`);
  const clicks: PicturePoint[] = [];
  for (const point of list) {
    if (!Array.isArray(point) || point.length !== 2) return failMark(key, 'is no [column, row]');
    const [column, row] = point as unknown[];
    if (isAbsent(column) || isAbsent(row) || (typeof column === 'number' && !Number.isFinite(column)) || (typeof row === 'number' && !Number.isFinite(row))) {
      return fail('mark-not-finite', `a point of ${key} is not a number.`, 'Mark that point again: [column, row] in pixels.', { mark: key });
    }
    if (typeof column !== 'number' || typeof row !== 'number') return failMark(key, 'is no [column, row]');
    clicks.push([column, row]);
  }
  return succeed(clicks);
}

const failMark = (key: string, why: string): Bad => fail('mark-invalid', `a point of ${key} ${why}.`, 'A point is [column, row] in pixels; repeated clicks are a list of points.', { mark: key });

function readSize(entry: Fields): Result<DepthFrame['sizePx'], FramesFailureCode> {
  const { columns, rows } = entry;
  if (isAbsent(columns) && isAbsent(rows)) return succeed(null);
  const isSide = (v: unknown): v is number => typeof v === 'number' && Number.isInteger(v) && v >= 16 && v <= 8192;
  return isSide(columns) && isSide(rows) ? succeed({ columns, rows }) : fail('frames-invalid', 'columns and rows must both be whole numbers from 16 to 8192.', 'Give the size of the picture, or leave both out.');
}
