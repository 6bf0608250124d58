import { constants, rmSync } from 'node:fs';
import { cp, mkdir, open, readdir, rename, rm, rmdir, stat } from 'node:fs/promises';
import { hostname } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';

/**
 * Output appears whole or not at all: files are written beside, flushed and renamed; an output folder is filled under
 * a hidden name next to its place and renamed at the end. A killed process leaves at most the hidden folder, which
 * the next claim of the same place removes.
 */
export type OutFolderFailureCode =
  | 'out-folder-holds-answer'
  | 'out-folder-holds-other-files'
  | 'out-folder-is-file'
  | 'out-folder-not-writable';

/** What an answer of each kind consists of: the file that says "here is an answer", and all names that belong to it. */
const ANSWERS = {
  plan: { answerFile: 'plan.json', owned: /^(plan\.(json|html|pdf)|wall\.(html|pdf)|surfaces)$/ },
  phantom: { answerFile: 'truth.json', owned: /^(truth\.json|regions\.json|series|dicom|DICOMDIR|.+\.dcm)$/ },
} as const;

export interface OutFolderOptions {
  readonly replace: boolean;
  /** Default plan. */
  readonly kind?: keyof typeof ANSWERS;
}

export interface OutFolder {
  /** Write the answer here; it becomes the out folder on `publish`. */
  readonly workDir: string;
  /** Flushes everything and puts it in place; gives the out folder's path. */
  publish(): Promise<Result<string, OutFolderFailureCode>>;
  /** Removes the work folder; the out folder stays as it was. */
  abandon(): Promise<void>;
}

const openWorkDirs = new Set<string>();

/** For the signal handler: removes what was begun and not published. */
export function abandonAllOutFolders(): void {
  for (const dir of openWorkDirs) rmSync(dir, { recursive: true, force: true });
  openWorkDirs.clear();
}

/** Writes beside, flushes, renames: a reader sees the old file or the new one, never a part. `mode` as in open(2). */
export async function writeWhole(path: string, data: string | Uint8Array, mode = 0o666): Promise<void> {
  const beside = join(dirname(path), `.${basename(path)}.part-${process.pid}`);
  try {
    const file = await open(beside, 'w', mode);
    try {
      await file.writeFile(data);
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(beside, path);
  } catch (problem) {
    await rm(beside, { force: true });
    throw problem;
  }
  await flushFolder(dirname(path));
}

/**
 * Claims the place of an answer without touching what is there.
 *
 * Fails  out-folder-holds-answer (an answer is there and `replace` is off), out-folder-holds-other-files (it holds
 *        files and no answer of this kind: never overwritten), out-folder-is-file, out-folder-not-writable
 */
export async function claimOutFolder(
  dir: string,
  options: OutFolderOptions,
): Promise<Result<OutFolder, OutFolderFailureCode>> {
  const place = resolve(dir);
  const kind = options.kind ?? 'plan';
  const beside = (what: string): string => join(dirname(place), `.${basename(place)}.${what}`);
  const workDir = beside(`part-${hostname().replace(/[^\w-]/g, '')}-${process.pid}`);
  const oldDir = beside('replaced');
  let firstMade: string | undefined;
  try {
    firstMade = await mkdir(dirname(place), { recursive: true });
    await recoverPlace(place, oldDir);
    const state = await readPlace(place, kind);
    const refusal = refusePlace(state, options.replace, kind);
    if (refusal) return refusal;
    await removeDeadWorkDirs(place);
    await rm(workDir, { recursive: true, force: true });
    await mkdir(workDir);
    openWorkDirs.add(workDir);
  } catch (problem) {
    return refuseUnwritable(problem);
  }
  const abandon = async (): Promise<void> => {
    await rm(workDir, { recursive: true, force: true });
    openWorkDirs.delete(workDir);
    if (firstMade) await removeEmptyFolders(dirname(place), firstMade);
  };
  const publish = async (): Promise<Result<string, OutFolderFailureCode>> => {
    try {
      const state = await readPlace(place, kind);
      const refusal = refusePlace(state, options.replace, kind);
      if (refusal) {
        await abandon();
        return refusal;
      }
      if (state.kind === 'answer') await keepForeignEntries(place, workDir, kind);
      await flushTree(workDir);
      if (state.kind === 'answer') await rename(place, oldDir);
      await rename(workDir, place);
      openWorkDirs.delete(workDir);
      await flushFolder(dirname(place));
      await rm(oldDir, { recursive: true, force: true });
      return succeed(place);
    } catch (problem) {
      await recoverPlace(place, oldDir).catch(() => {});
      await abandon();
      return refuseUnwritable(problem);
    }
  };
  return succeed({ workDir, publish, abandon });
}

type PlaceState = { readonly kind: 'free' | 'answer' | 'file' } | { readonly kind: 'other'; readonly entries: number };

async function readPlace(place: string, kind: keyof typeof ANSWERS): Promise<PlaceState> {
  const found = await stat(place).catch(() => null);
  if (!found) return { kind: 'free' };
  if (!found.isDirectory()) return { kind: 'file' };
  const names = await readdir(place);
  if (names.length === 0) return { kind: 'free' };
  return names.includes(ANSWERS[kind].answerFile) ? { kind: 'answer' } : { kind: 'other', entries: names.length };
}

function refusePlace(
  state: PlaceState,
  replace: boolean,
  kind: keyof typeof ANSWERS,
): ReturnType<typeof fail<OutFolderFailureCode>> | null {
  if (state.kind === 'file') {
    return fail('out-folder-is-file', 'The output folder is a file.', 'Name a folder that does not exist yet.');
  }
  if (state.kind === 'other') {
    return fail(
      'out-folder-holds-other-files',
      `The output folder holds ${state.entries} entries and no ${ANSWERS[kind].answerFile}; it is left alone.`,
      'Name a new or an empty folder.',
      { entries: state.entries },
    );
  }
  if (state.kind === 'answer' && !replace) {
    return fail(
      'out-folder-holds-answer',
      `The output folder already holds an answer (${ANSWERS[kind].answerFile}).`,
      'Name another folder, or add --replace.',
    );
  }
  return null;
}

function refuseUnwritable(problem: unknown): ReturnType<typeof fail<OutFolderFailureCode>> {
  const reason = (problem as { code?: string }).code ?? 'unknown';
  return fail(
    'out-folder-not-writable',
    `The output folder cannot be written (${reason}).`,
    'Check that the disk has room and that you may write there, or name another folder.',
    { reason },
  );
}

/** Finishes what a process killed in the middle of replacing left: the old answer goes back, or its remains go. */
async function recoverPlace(place: string, oldDir: string): Promise<void> {
  if (!(await stat(oldDir).catch(() => null))) return;
  if (await stat(place).catch(() => null)) await rm(oldDir, { recursive: true, force: true });
  else await rename(oldDir, place);
}

/** A person's own files in the out folder (marks, notes) outlive a replaced answer. */
async function keepForeignEntries(place: string, workDir: string, kind: keyof typeof ANSWERS): Promise<void> {
  for (const name of await readdir(place)) {
    if (ANSWERS[kind].owned.test(name)) continue;
    await cp(join(place, name), join(workDir, name), {
      recursive: true, preserveTimestamps: true, force: false, mode: constants.COPYFILE_FICLONE,
    });
  }
}

/** Takes back the parent folders that the claim made, from the inside out, as long as they are empty. */
async function removeEmptyFolders(innermost: string, outermost: string): Promise<void> {
  for (let dir = innermost; dir.startsWith(outermost); dir = dirname(dir)) {
    const isGone = await rmdir(dir).then(() => true, () => false);
    if (!isGone) return;
  }
}

async function removeDeadWorkDirs(place: string): Promise<void> {
  const prefix = `.${basename(place)}.part-${hostname().replace(/[^\w-]/g, '')}-`;
  for (const name of await readdir(dirname(place))) {
    const pid = name.startsWith(prefix) ? Number(name.slice(prefix.length)) : Number.NaN;
    if (Number.isInteger(pid) && pid > 0 && !isAlive(pid)) {
      await rm(join(dirname(place), name), { recursive: true, force: true });
    }
  }
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (problem) {
    return (problem as { code?: string }).code === 'EPERM';
  }
}

async function flushTree(dir: string): Promise<void> {
  for (const entry of await readdir(dir, { withFileTypes: true })) {
    const path = join(dir, entry.name);
    if (entry.isDirectory()) await flushTree(path);
    else if (entry.isFile()) {
      const file = await open(path, 'r+').catch(() => open(path, 'r')); // a kept file may be read-only
      await file.sync().finally(() => file.close());
    }
  }
  await flushFolder(dir);
}

/** Makes a rename last through a power cut. Not every system can open a folder; the rename itself stands without it. */
export async function flushFolder(dir: string): Promise<void> {
  const handle = await open(dir, 'r').catch(() => null);
  if (handle) await handle.sync().catch(() => {}).finally(() => handle.close());
}
