import { readFileSync } from 'node:fs';
import { link, mkdir, open, readFile, rename, rm } from 'node:fs/promises';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import type { StoreFailureCode } from './store-types.ts';

interface Holder {
  readonly pid: number;
  readonly host: string;
  /** When that process began, in the kernel's ticks: a number given to another process later does not pass for it. */
  readonly began: string | null;
}
type Refused = { readonly ok: false; readonly failure: Failure<StoreFailureCode> };
export interface DataLock {
  release(): Promise<void>;
}

/**
 * One process per data folder: the embedded engine takes no lock of its own. The lock is a file that appears whole (hard
 * link); that of a process which died is taken over, by one of those who try.
 * Fails     store-locked, folder-not-writable
 */
export async function lockData(dataFolder: string): Promise<Result<DataLock, StoreFailureCode>> {
  const place = join(dataFolder, 'lock');
  const own: Holder = { pid: process.pid, host: hostname(), began: readBegan(process.pid) };
  const mine = join(dataFolder, `.lock-${process.pid}-${nextNumber++}`);
  try {
    await mkdir(dataFolder, { recursive: true });
    const file = await open(mine, 'wx');
    await file.writeFile(JSON.stringify(own)).finally(() => file.close());
    for (let tries = 0; tries < 3; tries++) {
      const isMine = await link(mine, place).then(() => true, (problem: { code?: string }) => {
        if (problem.code === 'EEXIST') return false;
        throw problem;
      });
      if (isMine) return succeed({ release: () => rm(place, { force: true }) });
      const refused = await clearDead(place, `${mine}-dead`);
      if (refused) return refused;
    }
    return failLocked({ pid: 0, host: own.host, began: null });
  } catch (problem) {
    return failUnwritable(problem);
  } finally {
    await rm(mine, { force: true }).catch(() => {});
  }
}
let nextNumber = 1;

/** Whether somebody who may still be at work holds the folder: a living process here, or one of another machine. */
export async function isDataLocked(dataFolder: string): Promise<boolean> {
  const holder = await readHolder(join(dataFolder, 'lock'));
  return holder !== 'gone' && holder !== null && (holder.host !== hostname() || isRunning(holder));
}

export function failUnwritable(problem: unknown): Refused {
  const reason = (problem as { code?: string }).code;
  if (reason === undefined) throw problem;
  if (reason === 'ENOSPC' || reason === 'EDQUOT') return fail('store-full', STORE_EN.full, STORE_EN.fullNext);
  return fail('folder-not-writable', formatText(STORE_EN, 'readOnly', { reason }), STORE_EN.readOnlyNext, { reason });
}

/** Moves a dead process's lock away; null when the place may be free now, else why it is not. */
async function clearDead(place: string, aside: string): Promise<Refused | null> {
  const before = await readHolder(place);
  if (before === 'gone') return null;
  if (before && before.host !== hostname()) return fail('store-locked', STORE_EN.lockedElsewhere, STORE_EN.lockedElsewhereNext);
  if (before && isRunning(before)) return failLocked(before);
  await rename(place, aside).catch(() => {});
  const moved = await readHolder(aside);
  // Between look and move another process may have taken the place over: it gets its lock back.
  if (moved !== 'gone' && moved && isRunning(moved)) {
    await link(aside, place).catch(() => {});
    await rm(aside, { force: true });
    return failLocked(moved);
  }
  await rm(aside, { force: true });
  return null;
}

const failLocked = ({ pid }: Holder): Refused => fail('store-locked', formatText(STORE_EN, 'locked', { pid }), STORE_EN.lockedNext, { pid });

/** null: a lock that says nothing readable (a disk that filled up), which nobody holds. */
async function readHolder(path: string): Promise<Holder | null | 'gone'> {
  const text = await readFile(path, 'utf8').catch(() => null);
  if (text === null) return 'gone';
  try {
    const holder = JSON.parse(text) as Holder;
    return typeof holder.pid === 'number' && typeof holder.host === 'string' ? holder : null;
  } catch {
    return null;
  }
}

function isRunning({ pid, began }: Holder): boolean {
  try {
    process.kill(pid, 0);
  } catch (problem) {
    if ((problem as { code?: string }).code !== 'EPERM') return false;
  }
  const beganNow = readBegan(pid);
  return began === null || beganNow === null || began === beganNow;
}

/** Field 22 of /proc/<pid>/stat, where there is one; the name in field 2 may hold blanks and brackets. */
function readBegan(pid: number): string | null {
  try {
    const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
    return text.slice(text.lastIndexOf(')') + 2).split(' ')[19] ?? null;
  } catch {
    return null;
  }
}
