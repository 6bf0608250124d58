import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { API_ERROR } from '../../formats/api/api-routes.ts';
import { MOST_RUN_BYTES, RUN, type RunAnswer } from '../../formats/api/run-schemas.ts';
import { makeApiPath, readCsrfToken, type ApiResult } from '../api/call-api.ts';
import type { RunInfo } from './slots.ts';

/**
 * Hands one DICOM file in as a run of the case; tells how much of it has gone.
 * Fails     run-too-large, server-unreachable, answer-not-understood, and as addRun: identity-differs, run-not-xa, ...
 */
export function sendRun(caseId: string, file: Blob, because: string | null, tell: (ratio: number) => void): Promise<ApiResult<RunAnswer>> {
  const refuse = (status: number, code: string, message: string, nextStep: string): ApiResult<never> => ({ ok: false, failure: { status, code, message, nextStep, evidence: {}, newer: [] } });
  if (file.size > MOST_RUN_BYTES) return Promise.resolve(refuse(413, 'run-too-large', formatText(DEPTH_PAGE_EN, 'tooLarge', { mb: MOST_RUN_BYTES / 1024 ** 2 }), DEPTH_PAGE_EN.tooLargeNext));
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    request.open('POST', makeApiPath('addRun', { params: { caseId }, query: { because: because ?? undefined } }));
    request.setRequestHeader('content-type', 'application/dicom');
    request.setRequestHeader('x-trinadir-csrf', readCsrfToken() ?? '');
    request.upload.onprogress = (event) => tell(event.total > 0 ? event.loaded / event.total : 0);
    request.onerror = () => resolve(refuse(0, 'server-unreachable', DESK_EN.unreachable, DESK_EN.unreachableNext));
    request.onload = () => {
      const content = readJson(request.responseText);
      if (request.status === 200) {
        const run = RUN.safeParse(content);
        return resolve(run.success ? { ok: true, value: run.data } : refuse(200, 'answer-not-understood', DESK_EN.notUnderstood, DESK_EN.notUnderstoodNext));
      }
      const refusal = API_ERROR.safeParse(content);
      const { code, text, next } = refusal.success ? refusal.data.error : { code: 'server-refused', text: DESK_EN.refusedPlain, next: DESK_EN.unreachableNext };
      resolve(refuse(request.status, code, text, next));
    };
    request.send(file);
  });
}
function readJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

export const readRunInfo = ({ runId, frames, rows, columns, views, sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt }: RunAnswer): RunInfo =>
  ({ runId, frames, size: { columns, rows }, views, sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt });
