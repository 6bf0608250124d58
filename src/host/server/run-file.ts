import { stat } from 'node:fs/promises';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { CameraView } from '../../core/projection/camera-view.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { RUNS_EN } from '../../core/text/runs-en.ts';
import type { RunAnswer } from '../../formats/api/run-schemas.ts';
import { parsePart10, type DicomDataset } from '../../formats/dicom/parse-part10.ts';
import { findFrameBytes } from '../../formats/dicom/find-frame-bytes.ts';
import { readIdentity } from '../../formats/dicom/read-identity.ts';
import { decodeXaFrame, findCalibration, paintXaFrame, readXa, type XaRun } from '../../formats/dicom/read-xa.ts';
import { findSyntaxRule } from '../../formats/dicom/transfer-syntaxes.ts';
import { readPart } from '../intake/read-input.ts';
import { loadCodecs } from '../jobs/load-codecs.ts';

/** Heads lie below the first step; overlays and long private elements need the second. */
const HEAD_STEPS = [256 << 10, 8 << 20];

/**
 * Header of a run that lies on disk, and whom it says it is of. The pixels are not read.
 * Fails     run-gone, and as parsePart10 and readXa
 */
export async function readRunHead(path: string): Promise<Result<{ readonly run: XaRun; readonly identity: PatientIdentity }, string>> {
  const bytes = await stat(path).then((about) => about.size, () => null);
  if (bytes === null) return failGone();
  const parsed = parseHead(path, bytes);
  if (!parsed.ok) return parsed;
  const run = readXa(parsed.value);
  return run.ok ? succeed({ run: run.value, identity: readIdentity(parsed.value.values) }) : run;
}
export const failGone = (): Result<never, 'run-gone'> => fail('run-gone', RUNS_EN.gone, RUNS_EN.goneNext);

function parseHead(path: string, fileLength: number): Result<DicomDataset, string> {
  for (const step of [...HEAD_STEPS, fileLength]) {
    const head = readPart(path, 0, Math.min(step, fileLength));
    if (!head.ok) return head;
    const parsed = parsePart10(head.value, { fileLength });
    if (parsed.ok || parsed.failure.code !== 'head-too-short' || step >= fileLength) return parsed;
  }
  throw new Error('unreachable: the last step is the whole file');
}

/** JPEG baseline, which every browser shows and no decoder here takes: lossy, so nothing is computed from its greys. */
const BASELINE_JPEG = '1.2.840.10008.1.2.4.50';
export interface FramePicture {
  /** `grey`: 8 bit, row by row; `jpeg`: for the page to unpack. */
  readonly kind: 'grey' | 'jpeg';
  readonly bytes: Uint8Array<ArrayBuffer>;
}

/**
 * One frame (number from 1) for the screen. Of an uncompressed run only that frame is read from disk.
 * Fails     run-gone, and as decodeXaFrame
 */
export async function readRunPicture(path: string, run: XaRun, frameNumber: number): Promise<Result<FramePicture, string>> {
  const { encoding } = run;
  const bytes = await stat(path).then((about) => about.size, () => null);
  if (bytes === null) return failGone();
  const frameBytes = encoding.rows * encoding.columns * (encoding.bitsAllocated / 8);
  const isPlain = findSyntaxRule(encoding.transferSyntaxUid)?.kind === 'native' && !encoding.pixelData.isDeflated;
  const isThere = Number.isInteger(frameNumber) && frameNumber >= 1 && frameNumber <= run.frameCount;
  const part = isPlain && isThere ? readPart(path, encoding.pixelData.offset + (frameNumber - 1) * frameBytes, frameBytes) : readPart(path, 0, bytes);
  if (!part.ok) return part;
  if (isThere && encoding.transferSyntaxUid === BASELINE_JPEG && encoding.pixelData.isEncapsulated) {
    const packed = findFrameBytes(part.value, encoding, frameNumber - 1);
    return packed.ok ? succeed({ kind: 'jpeg', bytes: packed.value.slice() }) : packed;
  }
  const alone: XaRun = isPlain && isThere ? { ...run, frameCount: 1, encoding: { ...encoding, frameCount: 1, pixelData: { ...encoding.pixelData, offset: 0, length: frameBytes } } } : run;
  const stored = decodeXaFrame(part.value, alone, alone === run ? frameNumber : 1, await loadCodecs());
  return stored.ok ? succeed({ kind: 'grey', bytes: paintXaFrame(stored.value, run) as Uint8Array<ArrayBuffer> }) : stored;
}

/** What a page is told of a run: nothing about the patient. */
export function describeRun(runId: string, run: XaRun): RunAnswer {
  const scale = findCalibration(run);
  const byGeometry = scale?.by === 'geometry' ? scale : null;
  return {
    runId, frames: run.frameCount, rows: run.rows, columns: run.columns, views: shortenViews(run.views),
    sourceToImageMm: byGeometry?.sourceToImageMm ?? run.sourceToImageMm, sourceToPatientMm: byGeometry?.sourceToPatientMm ?? run.sourceToPatientMm,
    pixelMm: byGeometry?.pixelMm ?? run.imagerPixelMm, pixelAt: byGeometry?.pixelAt ?? 'detector',
    findings: [...run.gaps, ...(run.encoding.transferSyntaxUid === BASELINE_JPEG ? ['picture-lossy' as const] : [])].map((code) => ({ code, text: RUNS_EN[`gap-${code}`], next: RUNS_EN[`next-${code}`] })),
  };
}

/** One view when all frames share it. */
function shortenViews(views: readonly (CameraView | null)[]): (CameraView | null)[] {
  const [first = null] = views;
  const isSame = views.every((v) => v?.primaryDeg === first?.primaryDeg && v?.secondaryDeg === first?.secondaryDeg);
  return isSame ? [first] : [...views];
}
