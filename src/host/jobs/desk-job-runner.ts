import { randomUUID } from 'node:crypto';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import type { CaseState } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { reportDefect } from '../cli/report-defect.ts';
import type { JobRunner, Services } from '../server/handler-types.ts';
import { uploadFolder } from '../server/upload-door.ts';
import type { StoredJob } from '../storage/store-types.ts';
import { runBlockJob } from './block-job.ts';
import type { JobContext, JobEnd, PlanJobAsk } from './desk-job-types.ts';
import { runImportJob } from './import-job.ts';
import { runPlanJob } from './plan-job.ts';
import { runProcess, type RunningProcess } from './run-process.ts';

const RUNS: Readonly<Record<StoredJob['kind'], (job: StoredJob, context: JobContext) => Promise<JobEnd>>> = { import: runImportJob, plan: runPlanJob, block: runBlockJob };
/** A plan uses all cores by itself; an import waits for the disk most of the time. */
const MOST_AT_ONCE = 2;
const PROGRESS_KEPT_EVERY_MS = 2_000;
const STORE_RETRY_MS = 1_000;
/** An upload that nobody went on with. */
const UPLOAD_GIVEN_UP_MS = 7 * 24 * 3_600_000;
export const LIVE_STATES = ['receiving', 'waiting', 'running'] as const satisfies readonly StoredJob['state'][];

interface Running {
  job: StoredJob;
  process: RunningProcess | null;
  isStopped: boolean;
  /** Settles when the job is over and its last state is stored. */
  over: Promise<void>;
}

/** A new job, not yet started. */
export function makeJob(kind: StoredJob['kind'], caseId: string, by: string, ask: unknown, state: StoredJob['state'] = 'waiting'): StoredJob {
  const at = new Date().toISOString();
  return { jobId: randomUUID(), caseId, kind, state, by, progress: { step: state === 'receiving' ? JOBS_EN.receiving : JOBS_EN.waiting, ratio: 0 }, failure: null, ask, answer: null, createdAt: at, changedAt: at };
}
export const makePlanJob = ({ caseId, planInputSeq }: CaseState, by: string): StoredJob => makeJob('plan', caseId, by, { planInputSeq } satisfies PlanJobAsk);

/**
 * Runs imports, plans and blocks, each in a process of its own, in the order they were asked for; a case has one import
 * or plan at a time. What is asked is stored before it is acknowledged: a server that dies goes on with it.
 * A class because it guards a queue and processes.
 */
export class DeskJobRunner implements JobRunner {
  private readonly running = new Map<string, Running>();
  private queue: StoredJob[] = [];
  private isClosed = false;
  private readonly services: Omit<Services, 'jobs'>;

  constructor(services: Omit<Services, 'jobs'>) {
    this.services = services;
  }

  /** A plan that waits already, or runs on the case as it is, is not started twice; one that runs on an older state is ended. */
  async start(job: StoredJob): Promise<Result<StoredJob, string>> {
    if (job.kind === 'plan') {
      const waiting = this.queue.find((other) => other.kind === 'plan' && other.caseId === job.caseId);
      if (waiting) return succeed(waiting);
      const running = [...this.running.values()].find((other) => other.job.kind === 'plan' && other.job.caseId === job.caseId && other.job.state === 'running' && !other.isStopped);
      if (running && (running.job.ask as PlanJobAsk).planInputSeq >= (job.ask as PlanJobAsk).planInputSeq) return succeed(running.job);
      if (running) this.stop(running);
    }
    const stored = await this.put({ ...job, state: 'waiting', progress: { step: JOBS_EN.waiting, ratio: 0 }, failure: null });
    if (!stored.ok) return stored;
    this.queue.push(stored.value);
    this.serve();
    return stored;
  }

  async cancel(jobId: string): Promise<Result<StoredJob, string>> {
    const running = this.running.get(jobId);
    if (running) {
      this.stop(running);
      await running.over;
    }
    const found = await this.services.store.findJob(jobId);
    if (!found.ok) return found;
    if (found.value === null) return fail('job-unknown', JOBS_EN.jobUnknown, JOBS_EN.jobUnknownNext);
    if (!LIVE_STATES.some((state) => state === found.value!.state)) {
      return running ? succeed(found.value) : fail('job-over', formatText(JOBS_EN, 'jobOver', { state: found.value.state }), JOBS_EN.jobOverNext);
    }
    this.queue = this.queue.filter((other) => other.jobId !== jobId);
    const cancelled = await this.put({ ...found.value, state: 'cancelled' });
    if (cancelled.ok && cancelled.value.kind === 'import') await this.removeUploads(cancelled.value);
    return cancelled;
  }

  async resume(): Promise<void> {
    await rm(join(this.services.dataFolder, 'work'), { recursive: true, force: true });
    const left = await this.services.store.listJobs({ states: [...LIVE_STATES] });
    if (!left.ok) return; // the store is away: who asks for a job meets it; a next start resumes
    for (const job of left.value) {
      if (job.state !== 'receiving') this.queue.push(job);
      else if (Date.now() - Date.parse(job.changedAt) > UPLOAD_GIVEN_UP_MS) await this.cancel(job.jobId);
    }
    this.serve();
  }

  /** Ends all processes; their jobs stay as they are and go on at the next start. */
  async close(): Promise<void> {
    this.isClosed = true;
    this.queue = [];
    const all = [...this.running.values()];
    for (const running of all) this.stop(running);
    await Promise.all(all.map(({ over }) => over));
  }

  private stop(running: Running): void {
    running.isStopped = true;
    running.process?.stop();
  }

  private serve(): void {
    for (const job of this.queue) {
      if (this.isClosed || this.running.size >= MOST_AT_ONCE) return;
      const isBusy = job.kind !== 'block' && [...this.running.values()].some((other) => other.job.caseId === job.caseId && other.job.kind !== 'block');
      if (isBusy) continue;
      this.queue = this.queue.filter((other) => other !== job);
      const running: Running = { job, process: null, isStopped: false, over: Promise.resolve() };
      this.running.set(job.jobId, running);
      running.over = this.run(running).catch((problem: unknown) => void reportDefect(problem, `job ${job.kind}`)).finally(() => {
        this.running.delete(job.jobId);
        this.serve();
      });
    }
  }

  private async run(running: Running): Promise<void> {
    const workFolder = join(this.services.dataFolder, 'work', randomUUID());
    try {
      const begun = await this.untilStored(running, { state: 'running' });
      if (!begun) return;
      const end = await this.attempt(running, workFolder);
      if (this.isClosed && (running.isStopped || !end.ok)) return; // stays 'running' in the store, and runs again
      if (end.ok) await this.untilStored(running, { state: 'done', answer: end.answer, progress: { step: running.job.progress.step, ratio: 1 } });
      else if (running.isStopped) await this.untilStored(running, { state: 'cancelled' });
      else await this.untilStored(running, { state: 'failed', failure: { code: end.failure.code, text: end.failure.message, next: end.failure.nextStep } });
      if (running.isStopped && running.job.state === 'cancelled' && running.job.kind === 'import') await this.removeUploads(running.job);
      if (end.ok && end.plansNext) await this.planNext(running.job);
    } finally {
      await rm(workFolder, { recursive: true, force: true }).catch(() => {});
    }
  }

  /** A store that is away for a while is waited for; what the job has kept so far is not computed again. */
  private async attempt(running: Running, workFolder: string): Promise<JobEnd> {
    for (;;) {
      try {
        await mkdir(workFolder, { recursive: true });
        const end = await RUNS[running.job.kind](running.job, this.makeContext(running, workFolder));
        if (end.ok || end.failure.code !== 'store-unreachable' || running.isStopped || this.isClosed) return end;
      } catch (problem) {
        const { code } = (problem ?? {}) as { code?: string };
        const isFull = code === 'ENOSPC' || code === 'EDQUOT';
        return isFull ? fail('store-full', STORE_EN.full, STORE_EN.fullNext) : { ok: false, failure: reportDefect(problem, `job ${running.job.kind}`) };
      }
      await rm(workFolder, { recursive: true, force: true });
      await wait(STORE_RETRY_MS);
    }
  }

  private makeContext(running: Running, workFolder: string): JobContext {
    let keptMs = performance.now();
    const tell = (step: string, ratio: number): void => {
      if (running.isStopped) return;
      running.job = { ...running.job, progress: { step, ratio } };
      this.services.feed.publish(running.job.caseId, { kind: 'job', job: running.job });
      if (performance.now() - keptMs < PROGRESS_KEPT_EVERY_MS) return;
      keptMs = performance.now();
      void this.save(running);
    };
    return {
      services: this.services, workFolder, tell, isStopped: () => running.isStopped,
      run: async (ask) => {
        if (running.isStopped) return fail('job-stopped', JOBS_EN.stopped, JOBS_EN.stoppedNext);
        running.process = runProcess(ask, tell);
        const outcome = await running.process.outcome;
        running.process = null;
        return outcome;
      },
      keep: async (part) => {
        running.job = { ...running.job, ...part };
        const stored = await this.save(running);
        return stored.ok ? succeed(null) : stored;
      },
    };
  }

  /** One write of a job after the other, so that an older progress never replaces a newer state. */
  private save(running: Running): Promise<Result<StoredJob, string>> {
    const before = this.saving.get(running) ?? Promise.resolve();
    const mine = before.then(() => this.put(running.job));
    this.saving.set(running, mine.catch(() => undefined));
    return mine;
  }
  private readonly saving = new WeakMap<Running, Promise<unknown>>();

  /** Stores a state that must not be lost; waits for a store that is away. False: the server closes. */
  private async untilStored(running: Running, part: Partial<StoredJob>): Promise<boolean> {
    running.job = { ...running.job, ...part };
    for (;;) {
      const stored = await this.save(running);
      if (stored.ok) return true;
      if (this.isClosed) return false;
      await wait(STORE_RETRY_MS);
    }
  }

  private async put(job: StoredJob): Promise<Result<StoredJob, string>> {
    const now = new Date().toISOString();
    const changed = { ...job, changedAt: now > job.changedAt ? now : job.changedAt };
    const stored = await this.services.store.putJob(changed);
    if (stored.ok) this.services.feed.publish(job.caseId, { kind: 'job', job: changed });
    return stored;
  }

  private async planNext({ caseId, by }: StoredJob): Promise<void> {
    const state = await this.services.store.readState(caseId);
    if (state.ok && !this.isClosed) await this.start(makePlanJob(state.value, by));
  }

  private async removeUploads(job: StoredJob): Promise<void> {
    await rm(uploadFolder(this.services.dataFolder, job.jobId), { recursive: true, force: true }).catch(() => {});
  }
}
