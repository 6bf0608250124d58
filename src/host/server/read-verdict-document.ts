import { succeed, type Result } from '../../core/result.ts';
import type { CaseStore } from '../storage/store-types.ts';

const MOST_KEPT = 64;

/**
 * Reads the documents of verdicts. A verdict looks at no single beat, and an hour's answer is nearly all beats: 12 MB that would be
 * read and parsed on the server's thread each time a page asks. Such an answer is kept in memory without them; its name is the hash
 * of its content, so that what is kept never grows old.
 * Fails    as the store
 */
export function makeVerdictDocuments(): (store: Pick<CaseStore, 'readDocument'>, sha256: string) => Promise<Result<string, string>> {
  const kept = new Map<string, string>();
  return async (store, sha256) => {
    const known = kept.get(sha256);
    if (known !== undefined) return succeed(known);
    const read = await store.readDocument(sha256);
    if (!read.ok) return read;
    if (read.value.kind !== 'pressure') return succeed(read.value.text);
    const text = JSON.stringify({ ...(JSON.parse(read.value.text) as object), beats: [] });
    if (kept.size >= MOST_KEPT) kept.delete(kept.keys().next().value!);
    kept.set(sha256, text);
    return succeed(text);
  };
}
