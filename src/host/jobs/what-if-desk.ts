import type { PlannedChoice } from '../../core/case/case-events.ts';
import type { AskChoiceFailureCode } from '../../core/case/ask-choice.ts';
import type { PlannedForecast } from '../../core/case/keep-what-ifs.ts';
import type { Result } from '../../core/result.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { WorkerPool } from './worker-pool.ts';

export interface WhatIfAsk {
  readonly planSha256: string;
  /** plan.json as stored. */
  readonly planText: string;
  readonly choice: PlannedChoice;
  readonly stamp: FactStamp;
}
/** Answers what-ifs in one thread of its own that keeps what they share. */
export interface WhatIfDesk {
  /** The newest question of an asker replaces those of theirs that still wait: they get `null`. */
  answer(asker: string, ask: WhatIfAsk): Promise<Result<PlannedForecast, AskChoiceFailureCode> | null>;
  close(): Promise<void>;
}

/** Draws added at once while nobody asks: a question never waits longer than these take, some 50 ms. */
const IDLE_DRAWS = 4;

interface Waiting {
  readonly asker: string;
  readonly ask: WhatIfAsk;
  resolve(answer: Result<PlannedForecast, AskChoiceFailureCode> | null): void;
  reject(problem: unknown): void;
}

/** Its thread starts with the first question and does not keep the program alive. */
export function makeWhatIfDesk(makePool: () => WorkerPool = () => new WorkerPool(1, { isQuiet: true })): WhatIfDesk {
  let pool: WorkerPool | null = null;
  let queue: Waiting[] = [];
  let isRunning = false;
  let isClosed = false;
  const serve = async (): Promise<void> => {
    if (isRunning) return;
    isRunning = true;
    let isMoreToDo = true;
    while (!isClosed && (queue.length > 0 || isMoreToDo)) {
      const next = queue.shift();
      pool ??= makePool();
      try {
        if (next) {
          next.resolve(await pool.run<Result<PlannedForecast, AskChoiceFailureCode>>('answer-what-if', next.ask));
          isMoreToDo = true;
        } else {
          const idle = await pool.run<Result<{ readonly isMoreToDo: boolean }>>('refine-what-ifs', { draws: IDLE_DRAWS });
          isMoreToDo = idle.ok && idle.value.isMoreToDo;
          await new Promise((resolve) => setImmediate(resolve)); // without threads a waiting request comes first
        }
      } catch (problem) {
        // The thread is lost: the next question gets a new one.
        const lost = pool;
        pool = null;
        isMoreToDo = false;
        void lost.close();
        next?.reject(problem);
      }
    }
    isRunning = false;
  };
  return {
    answer(asker, ask) {
      const isNewer = (w: Waiting): boolean => w.asker === asker;
      for (const old of queue.filter(isNewer)) old.resolve(null);
      queue = queue.filter((w) => !isNewer(w));
      return new Promise((resolve, reject) => {
        queue.push({ asker, ask, resolve, reject });
        void serve();
      });
    },
    async close() {
      isClosed = true;
      for (const left of queue.splice(0)) left.resolve(null);
      await pool?.close();
    },
  };
}
