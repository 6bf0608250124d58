import { fork } from 'node:child_process';
import { existsSync } from 'node:fs';
import { constants, setPriority } from 'node:os';
import { fileURLToPath } from 'node:url';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import type { ProcessAnswer, ProcessAsk, ProcessMessage } from './process-messages.ts';

export type ProcessFailureCode = 'job-ended' | 'job-too-long' | 'job-not-started' | 'job-stopped' | (string & {});
export interface RunningProcess {
  readonly outcome: Promise<Result<ProcessAnswer, ProcessFailureCode>>;
  /** Ends it at once; the outcome is then `job-stopped`. */
  stop(): void;
}
const MOST_MINUTES = 60;

/**
 * Runs one computation in a process of its own: the server goes on answering, a computation that breaks takes nothing
 * with it, and stopping it is ending it.
 * Fails     job-ended (signal or exit without an answer), job-too-long, job-not-started, job-stopped, and as the computation
 */
export function runProcess(ask: ProcessAsk, tell: (step: string, ratio: number) => void): RunningProcess {
  const entry = findEntry();
  if (entry === null) return { outcome: Promise.resolve(failNotStarted('not built')), stop: () => {} };
  const child = fork(entry, [], { stdio: ['ignore', 'ignore', 'inherit', 'ipc'], serialization: 'advanced', execArgv: [] });
  let isStopped = false;
  const outcome = new Promise<Result<ProcessAnswer, ProcessFailureCode>>((resolve) => {
    let said: Result<ProcessAnswer, ProcessFailureCode> | null = null;
    const timer = setTimeout(() => {
      said ??= fail('job-too-long', formatText(JOBS_EN, 'tooLong', { minutes: MOST_MINUTES }), JOBS_EN.tooLongNext, { minutes: MOST_MINUTES });
      child.kill('SIGKILL');
    }, MOST_MINUTES * 60_000);
    timer.unref();
    child.on('message', (message: ProcessMessage) => {
      if (message.type === 'progress') tell(message.step, message.ratio);
      else if (message.type === 'answer') said ??= succeed(message.answer);
      else said ??= { ok: false, failure: message.failure };
    });
    child.on('error', (problem: { code?: string }) => {
      said ??= failNotStarted(problem.code ?? 'unknown');
      child.kill('SIGKILL');
      if (child.pid === undefined) finish(null, null); // it never ran, so it will not exit
    });
    child.on('exit', (code, signal) => finish(code, signal));
    const finish = (code: number | null, signal: string | null): void => {
      clearTimeout(timer);
      resolve(isStopped ? fail('job-stopped', JOBS_EN.stopped, JOBS_EN.stoppedNext) : (said ?? failEnded(signal ?? `exit ${code}`)));
    };
  });
  if (child.pid !== undefined) {
    try {
      setPriority(child.pid, constants.priority.PRIORITY_BELOW_NORMAL); // pages come first
    } catch { /* not every system lets it */ }
    child.send(ask, () => {});
  }
  return {
    outcome,
    stop() {
      isStopped = true;
      child.kill('SIGKILL');
    },
  };
}

type Refused = { readonly ok: false; readonly failure: Failure<ProcessFailureCode> };
const failEnded = (how: string): Refused => fail('job-ended', formatText(JOBS_EN, 'ended', { how }), JOBS_EN.endedNext, { how });
const failNotStarted = (how: string): Refused => fail('job-not-started', formatText(JOBS_EN, 'notStarted', { how }), JOBS_EN.notStartedNext, { how });

/** The compiled entry: beside this file in dist, or its counterpart in dist when the sources run as they are (tests). */
function findEntry(): string | null {
  const here = import.meta.url;
  const entry = fileURLToPath(here.endsWith('.ts') ? new URL('../../../dist/host/jobs/process-entry.js', here) : new URL('./process-entry.js', here));
  return existsSync(entry) ? entry : null;
}
