import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { BECAUSE_HEADER, MOST_RUN_BYTES, type RunAnswer } from '../../formats/api/run-schemas.ts';
import { sendFile, type ApiResult } from '../api/call-api.ts';
import type { RunInfo } from './slots.ts';

/**
 * Hands one DICOM file in as a run of the case; tells how much of it has gone.
 * Fails     run-too-large, and as addRun: run-identity-differs, not-xa, ...
 */
export async function sendRun(caseId: string, file: Blob, because: string | null, tell: (ratio: number) => void): Promise<ApiResult<RunAnswer>> {
  if (file.size > MOST_RUN_BYTES) {
    return { ok: false, failure: { status: 413, code: 'run-too-large', message: formatText(DEPTH_PAGE_EN, 'tooLarge', { mb: MOST_RUN_BYTES / 1024 ** 2 }), nextStep: DEPTH_PAGE_EN.tooLargeNext, evidence: {}, newer: [] } };
  }
  // In a header, not in the address: addresses stand in logs, and a reason may name somebody.
  return sendFile('addRun', { params: { caseId } }, file, tell, because === null ? {} : { [BECAUSE_HEADER]: encodeURIComponent(because) });
}

export const readRunInfo = ({ runId, frames, rows, columns, views, sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt, findings }: RunAnswer): RunInfo =>
  ({ runId, frames, size: { columns, rows }, views, sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt, findings });
