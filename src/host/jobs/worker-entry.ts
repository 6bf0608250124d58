import { parentPort } from 'node:worker_threads';
import { findJob } from './job-registry.ts';
import type { JobReply, JobRequest } from './job-types.ts';

/** Runs in a worker thread: one job at a time, one reply for each. */
parentPort?.on('message', (request: JobRequest) => {
  const reply = (message: JobReply): void => parentPort?.postMessage(message);
  Promise.resolve()
    .then(() => findJob(request.name)(request.input as never))
    .then(
      (output) => reply({ id: request.id, ok: true, output }),
      (problem: unknown) => reply({ id: request.id, ok: false, problem: problem instanceof Error ? (problem.stack ?? problem.message) : String(problem) }),
    );
});
