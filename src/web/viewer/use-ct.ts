import { useEffect, useState } from 'preact/hooks';
import type { Failure } from '../../core/result.ts';
import { readBlock } from './read-block.ts';
import { startViewDrawer, type ViewDrawer } from './view-drawer.ts';

export type CtState =
  | { readonly kind: 'reading'; readonly ratio: number }
  | { readonly kind: 'ready'; readonly drawer: ViewDrawer; readonly key: string }
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
  const [held, setHeld] = useState<{ readonly keys: readonly string[] }>({ keys: [] });
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
    setHeld({ keys: [] });
    return () => started?.close();
  }, [caseId, blockOf]);

  useEffect(() => {
    if (drawer === null) return;
    if (drawer === 'none') {
      setCt({ kind: 'no-worker' });
      return;
    }
    const key = `${blockOf} ${seriesUid ?? MEASURED}`;
    if (held.keys.includes(key)) {
      setCt({ kind: 'ready', drawer, key });
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
      drawer.putBlock(key, block.value);
      const others = held.keys.filter((k) => k !== key);
      for (const old of others.slice(0, Math.max(0, others.length - (KEPT_BLOCKS - 1)))) drawer.dropBlock(old);
      setHeld({ keys: [...others.slice(-(KEPT_BLOCKS - 1)), key] });
      setCt({ kind: 'ready', drawer, key });
    });
    return () => void (isWanted = false);
  }, [drawer, seriesUid, tries]);

  return { ct, again: () => setTries(tries + 1) };
}
