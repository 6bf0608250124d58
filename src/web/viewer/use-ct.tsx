import { useEffect, useState } from 'preact/hooks';
import type { Failure } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';
import { readBlock } from './read-block.ts';
import { startViewDrawer, type ViewDrawer } from './view-drawer.ts';

/** Where the block lies. */
export type BlockGrid = Pick<CtVolume, 'dims' | 'lpsFromVoxel'>;

export type CtState =
  | { readonly kind: 'reading'; readonly ratio: number }
  | { readonly kind: 'ready'; readonly drawer: ViewDrawer; readonly key: string; readonly grid: BlockGrid }
  | { readonly kind: 'failed'; readonly failure: Pick<Failure<string>, 'message' | 'nextStep'> }
  | { readonly kind: 'no-worker' };

/** Blocks kept by the worker beside the one on the screen; each is some tens of megabytes. */
const KEPT_BLOCKS = 2;
const MEASURED = 'measured';

/**
 * The CT of a case for drawing: fetches the block of a series once and keeps the newest few in the worker.
 * `blockOf` changes when the scan does; `seriesUid` null is the measured series.
 */
export function useCt(caseId: string, blockOf: string, seriesUid: string | null): { readonly ct: CtState; readonly again: () => void } {
  const [drawer, setDrawer] = useState<ViewDrawer | null | 'none'>(null);
  const [held, setHeld] = useState<readonly { readonly key: string; readonly grid: BlockGrid }[]>([]);
  const [ct, setCt] = useState<CtState>({ kind: 'reading', ratio: 0 });
  const [tries, setTries] = useState(0);

  useEffect(() => {
    let started: ViewDrawer | null = null;
    try {
      started = startViewDrawer();
      setDrawer(started);
    } catch {
      setDrawer('none');
    }
    setHeld([]);
    return () => started?.close();
  }, [caseId, blockOf]);

  useEffect(() => {
    if (drawer === null) return;
    if (drawer === 'none') {
      setCt({ kind: 'no-worker' });
      return;
    }
    const key = `${blockOf} ${seriesUid ?? MEASURED}`;
    const kept = held.find((h) => h.key === key);
    if (kept) {
      setCt({ kind: 'ready', drawer, ...kept });
      return;
    }
    let isWanted = true;
    setCt({ kind: 'reading', ratio: 0 });
    void readBlock(caseId, seriesUid, (ratio) => isWanted && setCt({ kind: 'reading', ratio })).then((block) => {
      if (!isWanted) return;
      if (!block.ok) {
        setCt({ kind: 'failed', failure: block.failure });
        return;
      }
      const { dims, lpsFromVoxel } = block.value;
      drawer.putBlock(key, block.value);
      for (const old of held.slice(0, Math.max(0, held.length - (KEPT_BLOCKS - 1)))) drawer.dropBlock(old.key);
      setHeld([...held.slice(-(KEPT_BLOCKS - 1)), { key, grid: { dims, lpsFromVoxel } }]);
      setCt({ kind: 'ready', drawer, key, grid: { dims, lpsFromVoxel } });
    });
    return () => void (isWanted = false);
  }, [drawer, seriesUid, tries]);

  return { ct, again: () => setTries(tries + 1) };
}

/** What stands in the way of the picture, and the way on; nothing once it is there. */
export function CtNotice({ ct, again }: { readonly ct: CtState; readonly again: () => void }) {
  if (ct.kind === 'ready') return null;
  if (ct.kind === 'reading') return <p role="status" class="soft">{ct.ratio > 0 ? formatText(VIEWER_EN, 'readingRatio', { percent: Math.round(100 * ct.ratio) }) : VIEWER_EN.reading}</p>;
  if (ct.kind === 'no-worker') return <p class="tagged" role="alert">{VIEWER_EN.noWorker}</p>;
  return (
    <div class="notice" role="alert">
      <div><p>{ct.failure.message}</p><p class="soft">{ct.failure.nextStep}</p></div>
      <button type="button" onClick={again}>{VIEWER_EN.tryAgain}</button>
    </div>
  );
}
