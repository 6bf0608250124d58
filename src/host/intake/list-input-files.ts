import { opendir, realpath, stat } from 'node:fs/promises';
import { basename, dirname, join, relative, resolve, sep } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { InputFile, InputListing, ListFailureCode, UnreadableFile } from './intake-types.ts';
import { listZip } from './list-zip.ts';
import { openDicomdir } from './open-dicomdir.ts';
import { readInputHead } from './read-input.ts';

export const MAX_FILES = 200_000;
const MAX_DEPTH = 48;

/**
 * The files to look at below a path: a folder of any depth, a zip archive, a DICOMDIR, or one file. Nothing is
 * judged by its name. Symbolic links are followed once; a folder seen already is not entered again.
 *
 * Fails   input-missing, input-not-readable, too-many-files, folder-too-deep, zip-broken, zip-bomb,
 *         zip-path-outside, dicomdir-broken
 */
export async function listInputFiles(path: string): Promise<Result<InputListing, ListFailureCode>> {
  const root = resolve(path);
  const about = await stat(root).catch((problem: NodeJS.ErrnoException) => problem.code ?? 'unknown');
  if (typeof about === 'string') {
    return about === 'ENOENT' || about === 'ENOTDIR'
      ? fail('input-missing', 'There is no file or folder at the path given.', 'Check the path.', {})
      : fail('input-not-readable', `The system does not let the path be read (${about}).`, 'Check the rights of the folder.', { system: about });
  }
  if (about.isDirectory()) return listFolder(root);
  if (!about.isFile()) return fail('input-not-readable', 'The path is neither a file nor a folder.', 'Give a folder, a zip archive or a file.', {});
  return listFile(root, about.size);
}

async function listFile(path: string, bytes: number): Promise<Result<InputListing, ListFailureCode>> {
  const self: InputFile = { kind: 'file', label: basename(path), path, bytes };
  const magic = readInputHead(self, 4);
  if (!magic.ok) return fail('input-not-readable', magic.failure.message, 'Check the rights of the file.', magic.failure.evidence);
  const [p, k, third, fourth] = magic.value;
  if (p === 0x50 && k === 0x4b && ((third === 3 && fourth === 4) || (third === 5 && fourth === 6))) {
    const listing = listZip(path, bytes);
    return listing.ok ? succeed({ ...listing.value, files: sortByLabel(listing.value.files) }) : listing;
  }
  const directory = openDicomdir(self);
  if (directory === null) return succeed({ kind: 'file', files: [self], unreadable: [] });
  if (!directory.ok) return directory;
  return listReferences(dirname(path), directory.value.imagePaths, directory.value.unsafeCount);
}

/** A DICOMDIR names files below its own folder; one that points outside is not followed. */
async function listReferences(folder: string, references: readonly string[], unsafe: number): Promise<Result<InputListing, ListFailureCode>> {
  const files: InputFile[] = [];
  const unreadable: UnreadableFile[] = [];
  for (let n = 0; n < unsafe; n++) unreadable.push({ label: `reference ${n + 1}`, code: 'name-unsafe' });
  const top = await realpath(folder);
  if (references.length > MAX_FILES) return failTooMany();
  for (const label of references) {
    const found = await findReferenced(top, label.split('/'));
    if (!found) unreadable.push({ label, code: 'dicomdir-file-missing' });
    else files.push({ kind: 'file', label, ...found });
  }
  return succeed({ kind: 'dicomdir', files: sortByLabel(files), unreadable: sortByLabel(unreadable) });
}

/** Media are often copied with names in small letters. */
async function findReferenced(top: string, parts: readonly string[]): Promise<{ path: string; bytes: number } | null> {
  for (const names of [parts, parts.map((part) => part.toLowerCase())]) {
    const path = resolve(top, ...names);
    const real = await realpath(path).catch(() => null);
    if (real === null || !real.startsWith(top + sep)) continue;
    const about = await stat(real).catch(() => null);
    if (about?.isFile()) return { path: real, bytes: about.size };
  }
  return null;
}

async function listFolder(root: string): Promise<Result<InputListing, ListFailureCode>> {
  const files: InputFile[] = [];
  const unreadable: UnreadableFile[] = [];
  const entered = new Set<string>();
  const toVisit: { folder: string; depth: number }[] = [{ folder: root, depth: 0 }];
  while (toVisit.length > 0) {
    const { folder, depth } = toVisit.pop()!;
    const labelOf = (path: string): string => relative(root, path).split(sep).join('/');
    const about = await stat(folder, { bigint: true }).catch(() => null);
    const identity = about ? `${about.dev}:${about.ino}` : '';
    if (!about || entered.has(identity)) continue;
    entered.add(identity);
    if (depth > MAX_DEPTH) return fail('folder-too-deep', `Folders lie more than ${MAX_DEPTH} deep.`, 'Give the folder of one study.', { depth });
    const directory = await opendir(folder).catch(() => null);
    if (!directory) {
      if (depth === 0) return fail('input-not-readable', 'The system does not let the folder be read.', 'Check the rights of the folder.', {});
      unreadable.push({ label: labelOf(folder), code: 'folder-not-readable' });
      continue;
    }
    const names: { name: string; isFolder: boolean; isLink: boolean }[] = [];
    for await (const entry of directory) {
      if (entry.isDirectory() || entry.isFile() || entry.isSymbolicLink()) {
        names.push({ name: entry.name, isFolder: entry.isDirectory(), isLink: entry.isSymbolicLink() });
      }
      if (files.length + names.length > MAX_FILES) return failTooMany();
    }
    // Visited in name order, so that of two links to one folder the same one is entered on every machine.
    names.sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
    for (const { name, isFolder, isLink } of names) {
      const path = join(folder, name);
      const target = isFolder ? null : await stat(path).catch(() => null);
      if (isFolder || target?.isDirectory()) toVisit.push({ folder: path, depth: depth + 1 });
      else if (target?.isFile()) files.push({ kind: 'file', label: labelOf(path), path, bytes: target.size });
      else if (isLink || !target) unreadable.push({ label: labelOf(path), code: 'file-not-readable' });
    }
  }
  return succeed({ kind: 'folder', files: sortByLabel(files), unreadable: sortByLabel(unreadable) });
}

function failTooMany() {
  return fail('too-many-files' as const, `There are more than ${MAX_FILES} files.`, 'Give the folder of one study.', { most: MAX_FILES });
}

function sortByLabel<T extends { readonly label: string }>(items: readonly T[]): readonly T[] {
  return [...items].sort((a, b) => (a.label < b.label ? -1 : a.label > b.label ? 1 : 0));
}
