import { useEffect, useState } from 'preact/hooks';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
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

/** null: cut off on its way, or a JPEG that this browser does not read. */
export async function readGrey(answer: Response): Promise<Uint8Array | null> {
  try {
    if (answer.headers.get('content-type') !== 'image/jpeg') return new Uint8Array(await answer.arrayBuffer());
    const picture = await createImageBitmap(await answer.blob());
    const context = new OffscreenCanvas(picture.width, picture.height).getContext('2d')!;
    context.drawImage(picture, 0, 0);
    const { data } = context.getImageData(0, 0, picture.width, picture.height);
    return Uint8Array.from({ length: picture.width * picture.height }, (_, i) => data[4 * i]!);
  } catch {
    return null;
  }
}

async function fetchFrame(caseId: string, runId: string, frame: number): Promise<ApiFailure | null> {
  const key = keyOf(caseId, runId, frame);
  if (kept.has(key)) return null;
  const answer = await callApi('readRunFrame', { params: { caseId, runId, number: String(frame) } });
  if (!answer.ok) return answer.failure;
  const grey = await readGrey(answer.value);
  if (grey) kept.set(key, grey);
  else return { status: 200, code: 'picture-unreadable', message: DEPTH_PAGE_EN.unreadable, nextStep: DEPTH_PAGE_EN.unreadableNext, evidence: {}, newer: [] };
  for (const old of kept.keys()) {
    if (kept.size <= MOST_KEPT) break;
    kept.delete(old);
  }
  return null;
}
