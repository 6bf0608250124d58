import { useEffect, useState } from 'preact/hooks';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';

export interface RhythmHere {
  readonly answer: RhythmPageAnswer | null;
  readonly failure: ApiFailure | null;
  /** Of the server, ms; runs on with this page's own steady clock. */
  readonly nowMs: number;
}
/** States change by the hour, days by the day: read again now and then even when nobody enters anything. */
const AGAIN_MS = 5 * 60_000;

/** What the rules say of a case, read again with each of its events; the time goes on every second. */
export function useRhythm(caseId: string, seq: number): RhythmHere {
  const [read, setRead] = useState<{ readonly answer: RhythmPageAnswer; readonly atMs: number } | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [round, setRound] = useState(0);
  const [steadyMs, setSteady] = useState(performance.now());
  useEffect(() => {
    let isWanted = true;
    void callApi('readRhythm', { params: { caseId } }).then((answer) => {
      if (!isWanted) return;
      setFailure(answer.ok ? null : answer.failure);
      if (answer.ok) setRead({ answer: answer.value, atMs: performance.now() });
    });
    return () => { isWanted = false; };
  }, [caseId, seq, round]);
  useEffect(() => {
    const second = setInterval(() => setSteady(performance.now()), 1000);
    const again = setInterval(() => setRound((n) => n + 1), AGAIN_MS);
    return () => {
      clearInterval(second);
      clearInterval(again);
    };
  }, []);
  return { answer: read?.answer ?? null, failure, nowMs: read ? Date.parse(read.answer.now) + Math.max(0, steadyMs - read.atMs) : Date.now() };
}
