import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Worker, type Transferable } from 'node:worker_threads';
import type { JobReply, JobRequest } from './job-types.ts';
import { findJob } from './job-registry.ts';

interface Waiting {
  readonly request: JobRequest;
  readonly transfer: readonly Transferable[];
  resolve(output: unknown): void;
  reject(problem: Error): void;
}
interface Seat {
  readonly worker: Worker;
  current: Waiting | null;
}

/**
 * A fixed number of worker threads that take named jobs (job-registry.ts) in the order they were given.
 * A class because it guards threads and a queue. With 0 workers, or where no compiled worker is found, jobs run in
 * this thread, one after another: the same functions, so the same answers.
 * A job that throws is a defect: its promise rejects. Bad input is a Result inside the job's output.
 */
export class WorkerPool {
  readonly workers: number;
  private readonly seats: Seat[] = [];
  private readonly queue: Waiting[] = [];
  private nextId = 1;
  private chain: Promise<unknown> = Promise.resolve();
  private isClosed = false;
  /** Threads that wait for work do not keep the program alive. */
  private readonly isQuiet: boolean;

  constructor(workers: number, options: { readonly isQuiet?: boolean } = {}) {
    this.isQuiet = options.isQuiet === true;
    const entry = workers > 0 ? findWorkerEntry() : null;
    this.workers = entry ? workers : 0;
    for (let i = 0; i < this.workers; i++) this.seats.push(this.openSeat(entry!));
  }

  run<Out>(name: string, input: unknown, transfer: readonly Transferable[] = []): Promise<Out> {
    if (this.isClosed) return Promise.reject(new Error('The worker pool is closed.'));
    if (this.workers === 0) {
      const done = this.chain.then(() => findJob(name)(input as never));
      this.chain = done.catch(() => undefined);
      return done as Promise<Out>;
    }
    return new Promise<Out>((resolve, reject) => {
      const request = { id: this.nextId++, name, input };
      this.queue.push({ request, transfer, resolve: resolve as (output: unknown) => void, reject });
      this.serve();
    });
  }

  /** Ends the threads; jobs not yet done reject. */
  async close(): Promise<void> {
    this.isClosed = true;
    for (const waiting of this.queue.splice(0)) waiting.reject(new Error('The worker pool was closed.'));
    await Promise.all(this.seats.map((seat) => seat.worker.terminate()));
  }

  private openSeat(entry: URL): Seat {
    const seat: Seat = { worker: new Worker(entry, { stdout: false, stderr: false }), current: null };
    if (this.isQuiet) seat.worker.unref();
    seat.worker.on('message', (reply: JobReply) => {
      const current = seat.current;
      seat.current = null;
      if (current) {
        if (reply.ok) current.resolve(reply.output);
        else current.reject(new Error(reply.problem));
      }
      this.serve();
    });
    seat.worker.on('error', (problem: Error) => this.loseSeat(seat, problem));
    seat.worker.on('exit', () => this.loseSeat(seat, new Error('A worker thread ended early.')));
    return seat;
  }

  /** A lost thread loses its job, and the pool goes on with the others. */
  private loseSeat(seat: Seat, problem: Error): void {
    const at = this.seats.indexOf(seat);
    if (at >= 0 && !this.isClosed) this.seats.splice(at, 1);
    seat.current?.reject(problem);
    seat.current = null;
    if (this.seats.length === 0) for (const waiting of this.queue.splice(0)) waiting.reject(problem);
  }

  private serve(): void {
    for (const seat of this.seats) {
      if (seat.current) continue;
      const waiting = this.queue.shift();
      if (!waiting) return;
      seat.current = waiting;
      seat.worker.postMessage(waiting.request, [...waiting.transfer]);
    }
  }
}

/** The compiled worker: beside this file in dist, or its counterpart in dist when the sources run as they are (tests). */
function findWorkerEntry(): URL | null {
  const here = import.meta.url;
  const entry = here.endsWith('.ts')
    ? new URL('../../../dist/host/jobs/worker-entry.js', here)
    : new URL('./worker-entry.js', here);
  return existsSync(fileURLToPath(entry)) ? entry : null;
}
