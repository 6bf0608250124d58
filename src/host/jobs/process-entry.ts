import type { Result } from '../../core/result.ts';
import { reportDefect } from '../cli/report-defect.ts';
import type { ProcessAnswer, ProcessAsk, ProcessMessage, TellProgress } from './process-messages.ts';

/** Where a computation process begins (run-process.ts): one question, progress, one answer, end. */
const LEAST_MS_BETWEEN = 100;

function send(message: ProcessMessage): Promise<void> {
  return new Promise((resolve) => {
    if (process.send && process.connected) process.send(message, undefined, undefined, () => resolve());
    else resolve();
  });
}

/** A page draws no more than ten times a second. */
function makeTeller(): TellProgress {
  let [lastStep, lastMs] = ['', 0];
  return (step, ratio) => {
    const now = performance.now();
    if (step === lastStep && now - lastMs < LEAST_MS_BETWEEN) return;
    [lastStep, lastMs] = [step, now];
    void send({ type: 'progress', step, ratio: Math.min(1, Math.max(0, ratio || 0)) });
  };
}

async function answer(ask: ProcessAsk, tell: TellProgress): Promise<Result<ProcessAnswer>> {
  switch (ask.kind) {
    case 'import': return (await import('./import-process.ts')).importFiles(ask, tell);
    case 'plan': return (await import('./plan-process.ts')).planScan(ask, tell);
    case 'block': return (await import('./block-process.ts')).readBlock(ask, tell);
  }
}

if (process.send) {
  process.on('disconnect', () => process.exit(1)); // the server is gone: nobody waits for the answer
  process.once('message', (ask: ProcessAsk) => {
    answer(ask, makeTeller())
      .then((outcome) => send(outcome.ok ? { type: 'answer', answer: outcome.value } : { type: 'refused', failure: outcome.failure }))
      .catch((problem: unknown) => send({ type: 'refused', failure: reportDefect(problem, `job ${ask.kind}`) }))
      .then(() => process.exit(0));
  });
}
