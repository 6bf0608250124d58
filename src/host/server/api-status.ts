import type { Failure } from '../../core/result.ts';
import type { CaseEvent } from '../../core/case/case-events.ts';

/** HTTP status of each failure code that is not simply "understood, and refused" (422). */
const STATUS: Readonly<Record<string, number>> = {
  'request-invalid': 400, 'not-logged-in': 401, 'login-wrong': 401,
  'not-allowed': 403, 'cross-site': 403, 'csrf-wrong': 403, 'start-token-wrong': 403, 'only-here': 403,
  'route-unknown': 404, 'case-unknown': 404, 'blob-unknown': 404, 'run-unknown': 404, 'frame-number-invalid': 404, 'run-gone': 410, 'document-unknown': 404, 'document-wrong-kind': 404, 'job-unknown': 404, 'plan-part-missing': 404, 'scan-missing': 404, 'upload-gone': 410, 'person-unknown': 404,
  'method-wrong': 405, 'case-changed': 409, 'pairing-unknown': 404, 'pairing-needless': 409, 'pairing-crowd': 409, 'case-without-plan': 404, 'plan-stale': 409, 'freeze-blocked': 409, 'freeze-unchanged': 409, 'frozen-unknown': 404, 'what-if-overtaken': 409, 'login-taken': 409, 'first-done': 409, 'job-not-ready': 409, 'job-over': 409, 'import-running': 409, 'upload-incomplete': 409, 'body-slow': 408, 'body-too-large': 413, 'not-json': 415,
  'host-foreign': 421, 'too-many-attempts': 429,
  'recording-unknown': 404, 'live-unknown': 404, 'echo-unknown': 404, 'picture-unknown': 404, 'angiogram-unknown': 404, 'recording-gone': 410, 'picture-gone': 410, 'grade-first': 409, 'live-busy': 409, 'live-crowd': 503, 'live-long': 413, 'not-csv': 415,
  'chain-broken': 500, 'blob-damaged': 500, 'defect': 500,
  'store-unreachable': 503, 'store-locked': 503, 'store-newer': 503, 'server-busy': 503, 'pages-missing': 503, 'store-full': 507,
};
const statusOf = (code: string): number => STATUS[code] ?? 422;

/** A refusal as it crosses HTTP (API_ERROR). `newer`: the events that the writer had not seen. */
export function answerFailure(failure: Failure<string>, more: { readonly newer?: readonly CaseEvent[]; readonly headers?: Readonly<Record<string, string>> } = {}): Response {
  const error = { code: failure.code, text: failure.message, next: failure.nextStep };
  const wait = failure.evidence['retryAfterS'];
  return Response.json(more.newer ? { error, newer: more.newer } : { error }, {
    status: statusOf(failure.code),
    headers: { ...(wait === undefined ? {} : { 'Retry-After': String(wait) }), ...more.headers },
  });
}
