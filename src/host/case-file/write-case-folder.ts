import { chmod, mkdir, open, readdir, rename, rm, truncate } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { applyEvent, emptyCase, type CaseState } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { flushFolder, writeWhole } from '../cli/write-whole.ts';
import { linkEvents } from '../storage/case-calls.ts';
import { failUnwritable, lockData, type DataLock } from '../storage/data-lock.ts';
import { CHAIN_START, hashText } from '../storage/hash-chain.ts';
import { CASE_FILES, nameDocument, type CaseFileFailureCode, type CaseNote } from './case-file-types.ts';
import { readHead, readLog } from './open-case-folder.ts';
import { formatEventLine, formatHead, type ParsedCase } from './parse-case.ts';

/** How long a writer waits for another one; each holds the case for one append only. */
const MOST_WAIT_MS = 10_000;

export interface NewCase {
  readonly caseId: string;
  readonly label: string;
  readonly procedureOn: string | null;
  readonly training: boolean;
  readonly by: string;
  readonly nowMs: number;
}

/**
 * Makes a case folder: built under a hidden name beside its place and renamed, so that it appears whole. Others on the
 * machine cannot read it: its log may come to hold a name.
 * Fails     case-place-taken, event-invalid, folder-not-writable, store-full
 */
export async function makeCaseFolder(dir: string, { caseId, label, procedureOn, training, by, nowMs }: NewCase): Promise<Result<CaseState, CaseFileFailureCode>> {
  const place = resolve(dir);
  const linked = linkEvents({ caseId, by, expectSeq: 0, events: [{ kind: 'case.opened', data: { label, procedureOn, training } }] }, { seq: 0, sha256: CHAIN_START }, new Date(nowMs).toISOString());
  if (!linked.ok) return { ok: false, failure: { ...linked.failure, code: 'event-invalid' } };
  const [event] = linked.value as [CaseEvent];
  const beside = join(dirname(place), `.${basename(place)}.case-${process.pid}`);
  const failTaken = fail('case-place-taken' as const, CASE_FILE_EN.taken, CASE_FILE_EN.takenNext);
  try {
    const there = await readdir(place).catch((problem: { code?: string }) => {
      if (problem.code === 'ENOENT') return [];
      if (problem.code === 'ENOTDIR') return null;
      throw problem;
    });
    if (there === null || there.length > 0) return failTaken;
    await mkdir(dirname(place), { recursive: true });
    await rm(beside, { recursive: true, force: true });
    await mkdir(join(beside, CASE_FILES.documents), { recursive: true });
    await chmod(beside, 0o700);
    await writeWhole(join(beside, CASE_FILES.events), formatEventLine(event));
    await writeWhole(join(beside, CASE_FILES.head), formatHead({ format: 'trinadir.case/1', caseId, seq: event.seq, sha256: event.sha256 }));
    await rename(beside, place); // takes an empty folder's place, and no other's
    await flushFolder(dirname(place));
    return succeed(applyEvent(emptyCase(caseId), event));
  } catch (problem) {
    await rm(beside, { recursive: true, force: true }).catch(() => {});
    const code = (problem as { code?: string }).code;
    return code === 'ENOTEMPTY' || code === 'EEXIST' || code === 'ENOTDIR' ? failTaken : asCaseFailure(failUnwritable(problem));
  }
}

/** What to append, decided while nobody else can write; `at` is the time it will carry. Nothing to append is no failure. */
export type MakeEvents = (state: CaseState, events: readonly CaseEvent[], at: string) => Promise<Result<readonly NewCaseEvent[], string>> | Result<readonly NewCaseEvent[], string>;
export interface Appended {
  readonly state: CaseState;
  /** What was added by this call. */
  readonly added: readonly CaseEvent[];
  /** A tail that a killed writer left was put aside. */
  readonly notes: readonly CaseNote[];
}
export interface CaseWriter {
  /** Keeps a document under its hash; one that is there already is left as it is. */
  putDocument(text: string): Promise<Result<{ readonly sha256: string }, CaseFileFailureCode>>;
  /**
   * Adds events at the end of the chain. When it answers, they are flushed and acknowledged in case.json; when it fails, none
   * of them counts.
   */
  append(by: string, make: MakeEvents): Promise<Result<Appended, string>>;
}

/**
 * A writer of a case folder. It holds the folder for one append at a time, so that several may write to one case; each
 * looks first at what the others wrote.
 * Fails     case-not-case, case-other-format, case-too-large, chain-broken
 */
export async function openCaseWriter(dir: string, nowMs: () => number = Date.now, mostWaitMs = MOST_WAIT_MS): Promise<Result<CaseWriter & { readonly state: CaseState; readonly events: readonly CaseEvent[] }, CaseFileFailureCode>> {
  const first = await readFolder(dir);
  if (!first.ok) return first;
  let known: ParsedCase = first.value;

  const append = async (by: string, make: MakeEvents): Promise<Result<Appended, string>> => {
    const head = await readHead(dir);
    if (!head.ok) return head;
    if (head.value.seq !== known.head.seq || head.value.sha256 !== known.head.sha256) {
      const again = await readLog(dir, head.value);
      if (!again.ok) return again;
      known = again.value;
    }
    const notes = await putTailAside(dir, known);
    const nowIso = new Date(nowMs()).toISOString();
    const at = known.state.changedAt > nowIso ? known.state.changedAt : nowIso; // a clock that steps back puts no event before the last one
    const made = await make(known.state, known.events, at);
    if (!made.ok) return made;
    if (made.value.length === 0) return succeed({ state: known.state, added: [], notes });
    const linked = linkEvents({ caseId: known.head.caseId, by, expectSeq: known.head.seq, events: made.value }, known.head, at);
    if (!linked.ok) return linked;
    const lines = new TextEncoder().encode(linked.value.map(formatEventLine).join(''));
    await appendFlushed(join(dir, CASE_FILES.events), known.bytes, lines);
    const last = linked.value.at(-1)!;
    const next = { ...known.head, seq: last.seq, sha256: last.sha256 };
    await writeWhole(join(dir, CASE_FILES.head), formatHead(next)); // from here on it is acknowledged
    known = { head: next, events: [...known.events, ...linked.value], state: linked.value.reduce(applyEvent, known.state), bytes: known.bytes + lines.length, tailBytes: 0 };
    return succeed({ state: known.state, added: linked.value, notes });
  };

  return succeed({
    state: known.state, events: known.events,
    async putDocument(text) {
      const sha256 = hashText(text);
      try {
        await mkdir(join(dir, CASE_FILES.documents), { recursive: true });
        await writeWhole(join(dir, nameDocument(sha256)), text);
        return succeed({ sha256 });
      } catch (problem) {
        return asCaseFailure(failUnwritable(problem));
      }
    },
    async append(by, make) {
      const lock = await lockCase(dir, mostWaitMs);
      if (!lock.ok) return lock;
      try {
        return await append(by, make);
      } catch (problem) {
        return asCaseFailure(failUnwritable(problem));
      } finally {
        await lock.value.release();
      }
    },
  });
}

async function readFolder(dir: string): Promise<Result<ParsedCase, CaseFileFailureCode>> {
  const head = await readHead(dir);
  return head.ok ? readLog(dir, head.value) : head;
}

async function lockCase(dir: string, mostWaitMs: number): Promise<Result<DataLock, CaseFileFailureCode>> {
  const until = performance.now() + mostWaitMs;
  for (let pauseMs = 5; ; pauseMs = Math.min(pauseMs * 2, 100)) {
    const lock = await lockData(dir);
    if (lock.ok) return lock;
    if (lock.failure.code !== 'store-locked') return asCaseFailure(lock);
    const { pid } = lock.failure.evidence;
    if (pid === undefined) return fail('case-in-use', CASE_FILE_EN.inUseElsewhere, CASE_FILE_EN.inUseElsewhereNext);
    if (performance.now() >= until) return fail('case-in-use', formatText(CASE_FILE_EN, 'inUse', { pid }), CASE_FILE_EN.inUseNext, { pid });
    await wait(pauseMs);
  }
}

/** What a killed writer left behind the last acknowledged event goes into a file of its own: nothing is thrown away. */
async function putTailAside(dir: string, { head, bytes }: ParsedCase): Promise<readonly CaseNote[]> {
  const path = join(dir, CASE_FILES.events);
  const file = await open(path, 'r');
  let tail: Buffer;
  try {
    const { size } = await file.stat();
    if (size <= bytes) return [];
    tail = Buffer.alloc(size - bytes);
    await file.read(tail, 0, tail.length, bytes);
  } finally {
    await file.close();
  }
  await writeWhole(join(dir, `events.unacknowledged-${head.seq}-${hashText(tail.toString('latin1')).slice(0, 12)}.txt`), tail);
  await truncate(path, bytes);
  return [{ code: 'log-tail-unacknowledged', text: formatText(CASE_FILE_EN, 'tailAside', { seq: head.seq, bytes: tail.length }) }];
}

/** Behind the acknowledged bytes, flushed; what fails half-way is taken back. */
async function appendFlushed(path: string, at: number, lines: Uint8Array): Promise<void> {
  const file = await open(path, 'r+');
  try {
    for (let done = 0; done < lines.length;) done += (await file.write(lines, done, lines.length - done, at + done)).bytesWritten;
    await file.sync();
  } catch (problem) {
    await file.truncate(at).catch(() => {});
    throw problem;
  } finally {
    await file.close();
  }
}

/** What the disk refused, in the words of a case. */
function asCaseFailure({ failure }: { readonly failure: { readonly code: string; readonly evidence: Readonly<Record<string, string | number>> } }): Result<never, CaseFileFailureCode> {
  if (failure.code === 'store-full') return fail('store-full', STORE_EN.full, STORE_EN.fullNext);
  const { reason = '' } = failure.evidence;
  return fail('folder-not-writable', formatText(CASE_FILE_EN, 'unwritable', { reason }), CASE_FILE_EN.unwritableNext, { reason });
}
