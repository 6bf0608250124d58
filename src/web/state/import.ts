import { signal } from '@preact/signals';
import { Upload } from 'tus-js-client';
import { callApi, readCsrfToken, type ApiFailure } from '../api/call-api.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { caseState, takeJob } from './open-case.ts';
import type { HandedFile } from './import-files.ts';

/** Files on their way to the server. */
export interface Sending {
  readonly caseId: string;
  readonly jobId: string;
  readonly files: number;
  readonly bytes: number;
  readonly sentBytes: number;
  readonly sentFiles: number;
  readonly state: 'sending' | 'paused' | 'failed' | 'sent';
  /** Of the last seconds; null until there is one. */
  readonly bytesPerS: number | null;
}
export const sending = signal<Sending | null>(null);
export const importFailure = signal<ApiFailure | null>(null);

/** So many at once: enough that small files do not wait for one another's answers. */
const LANES = 6;
const SMALL_BYTES = 4 * 1024 ** 2;
const RETRY_MS = [300, 1000, 3000, 8000, 20000];
const RATE_WINDOW_MS = 4000;

interface Task {
  readonly handed: HandedFile;
  upload: Upload | null;
  sentBytes: number;
}
let tasks: readonly Task[] = [];
const running = new Set<Task>();
/** Tasks before this one have been begun; those that were stopped wait in `again`. */
let nextTask = 0;
let again: Task[] = [];
let sentBytes = 0;
let sentFiles = 0;
let toldAtMs = 0;
let samples: { readonly atMs: number; readonly bytes: number }[] = [];

/** Begins to hand in a scan. Files are sent by tus 1.0: what was sent before a break is not sent again. */
export async function startImport(caseId: string, files: readonly HandedFile[]): Promise<void> {
  const bytes = files.reduce((sum, f) => sum + f.file.size, 0);
  importFailure.value = null;
  const begun = await callApi('startImport', { params: { caseId }, body: { files: files.length, bytes } });
  if (!begun.ok) {
    importFailure.value = begun.failure;
    return;
  }
  takeJob(begun.value);
  tasks = files.map((handed) => ({ handed, upload: null, sentBytes: 0 }));
  [nextTask, again, sentBytes, sentFiles, samples] = [0, [], 0, 0, []];
  sending.value = { caseId, jobId: begun.value.jobId, files: files.length, bytes, sentBytes: 0, sentFiles: 0, state: 'sending', bytesPerS: null };
  fillLanes();
}

function change(part: Partial<Sending>): void {
  if (sending.value) sending.value = { ...sending.value, ...part };
}

function fillLanes(): void {
  while (sending.value?.state === 'sending' && running.size < LANES) {
    const task = again.pop() ?? tasks[nextTask++];
    if (!task) break;
    run(task, sending.value.jobId);
  }
  if (sending.value?.state === 'sending' && sentFiles === tasks.length) void finish();
}

function run(task: Task, jobId: string): void {
  running.add(task);
  task.upload ??= new Upload(task.handed.file, {
    endpoint: '/api/uploads',
    metadata: { importId: jobId, path: task.handed.path },
    retryDelays: RETRY_MS,
    // A small file goes with the request that begins it. A large one does not: what is broken off before the first answer has no address to go on at.
    uploadDataDuringCreation: task.handed.file.size <= SMALL_BYTES,
    // File names may hold a patient's name: none is kept in this browser.
    storeFingerprintForResuming: false,
    onBeforeRequest: (request) => {
      request.setHeader('X-Trinadir-Csrf', readCsrfToken() ?? '');
    },
    onProgress: (sent) => {
      noteSent(task, sent);
      tellProgress(false);
    },
    onSuccess: () => {
      running.delete(task);
      sentFiles += 1;
      noteSent(task, task.handed.file.size);
      task.upload = null; // a thousand finished ones need not be kept
      tellProgress(sentFiles === tasks.length);
      if (sending.value?.state !== 'paused') fillLanes();
    },
    onUploadUrlAvailable: () => {
      if (sending.value?.state === 'paused' && task.handed.file.size > SMALL_BYTES) stop('paused');
    },
    onError: (problem) => {
      stop('failed');
      const status = 'originalResponse' in problem ? (problem.originalResponse?.getStatus() ?? 0) : 0;
      importFailure.value = sayProblem(status);
    },
  });
  task.upload.start();
}

function sayProblem(status: number): ApiFailure {
  const [message, nextStep] =
    status === 0 ? [DESK_EN.uploadCut, DESK_EN.uploadCutNext] : status === 507 ? [DESK_EN.uploadFull, DESK_EN.uploadFullNext] : status === 413 ? [DESK_EN.uploadMore, DESK_EN.uploadMoreNext] : [DESK_EN.uploadRefused, DESK_EN.uploadRefusedNext];
  return { status, code: 'upload-failed', message, nextStep, evidence: { status }, newer: [] };
}

function noteSent(task: Task, bytes: number): void {
  sentBytes += bytes - task.sentBytes;
  task.sentBytes = bytes;
}
function tellProgress(isLast: boolean): void {
  const atMs = performance.now();
  if (!isLast && atMs - toldAtMs < 100) return;
  toldAtMs = atMs;
  samples = [...samples.filter((s) => atMs - s.atMs < RATE_WINDOW_MS), { atMs, bytes: sentBytes }];
  const first = samples[0]!;
  const bytesPerS = atMs - first.atMs > 500 ? ((sentBytes - first.bytes) * 1000) / (atMs - first.atMs) : (sending.value?.bytesPerS ?? null);
  change({ sentBytes, sentFiles, bytesPerS });
}

function stop(state: 'paused' | 'failed'): void {
  change({ state, bytesPerS: null });
  samples = [];
  for (const task of running) {
    if (state === 'paused' && task.upload?.url == null) continue; // about to end, or to get its address: a moment more
    void task.upload?.abort();
    again.push(task);
    running.delete(task);
  }
}
export function pauseImport(): void {
  stop('paused');
}
/** Goes on where it stopped: each file asks the server how much of it arrived. */
export function resumeImport(): void {
  importFailure.value = null;
  change({ state: 'sending' });
  fillLanes();
}
export async function cancelImport(): Promise<void> {
  const now = sending.value;
  if (!now) return;
  stop('failed'); // breaks off everything: nothing of it may end inside the next import
  tasks = [];
  sending.value = null;
  importFailure.value = null;
  const answer = await callApi('cancelJob', { params: { jobId: now.jobId }, body: {} });
  if (answer.ok) takeJob(answer.value);
}

async function finish(): Promise<void> {
  const now = sending.value;
  if (!now) return;
  change({ state: 'sent' });
  const answer = await callApi('finishImport', { params: { jobId: now.jobId }, body: { acceptIdentityBecause: null } });
  tasks = [];
  sending.value = null;
  if (answer.ok) takeJob(answer.value);
  else importFailure.value = answer.failure;
}

/** The person looked at both identities and says why the scan belongs to this case all the same. */
export async function retryImport(jobId: string, acceptIdentityBecause: string | null): Promise<void> {
  const answer = await callApi('retryJob', { params: { jobId }, body: { acceptIdentityBecause } });
  if (answer.ok) takeJob(answer.value);
  else importFailure.value = answer.failure;
}

/** Leaving the page would end the sending; the browser then asks. */
addEventListener('beforeunload', (event) => {
  if (sending.value && sending.value.state !== 'failed') event.preventDefault();
});
/** Files of one case are never shown on another. */
export const sendingHere = (): Sending | null => (sending.value?.caseId === caseState.value?.caseId ? sending.value : null);
