import { useEffect, useState } from 'preact/hooks';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import type { Slot } from './slots.ts';

/** Frames that were looked at last; some 40 MB at 1024 x 1024. */
const MOST_KEPT = 40;
const kept = new Map<string, Uint8Array>();
const keyOf = (caseId: string, runId: string, frame: number): string => `${caseId} ${runId} ${frame}`;

/** The grey values of the frame that is shown; neighbours are fetched ahead. */
export function useRunFrame(caseId: string, slot: Slot | undefined): { readonly grey: Uint8Array | null; readonly failure: ApiFailure | null; readonly again: () => void } {
  const [, drawAgain] = useState(0);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [tries, setTries] = useState(0);
  const run = slot?.run ?? null;
  const frame = slot?.frame ?? 1;
  useEffect(() => {
    if (!run) return;
    let isWanted = true;
    setFailure(null);
    void (async () => {
      for (const number of [frame, frame + 1, frame - 1]) {
        if (!isWanted || number < 1 || number > run.frames) continue;
        const problem = await fetchFrame(caseId, run.runId, number);
        if (isWanted && number === frame) {
          setFailure(problem);
          drawAgain((n) => n + 1);
        }
      }
    })();
    return () => void (isWanted = false);
  }, [caseId, run?.runId, frame, tries]);
  return { grey: run ? (kept.get(keyOf(caseId, run.runId, frame)) ?? null) : null, failure, again: () => setTries((n) => n + 1) };
}

async function fetchFrame(caseId: string, runId: string, frame: number): Promise<ApiFailure | null> {
  const key = keyOf(caseId, runId, frame);
  if (kept.has(key)) return null;
  const answer = await callApi('readRunFrame', { params: { caseId, runId, number: String(frame) } });
  if (!answer.ok) return answer.failure;
  const bytes = await answer.value.arrayBuffer().catch(() => null);
  if (bytes) kept.set(key, new Uint8Array(bytes));
  for (const old of kept.keys()) {
    if (kept.size <= MOST_KEPT) break;
    kept.delete(old);
  }
  return null;
}
