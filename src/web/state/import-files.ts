/** One file that a person handed in, with its place below what they dropped. */
export interface HandedFile {
  readonly path: string;
  readonly file: File;
}

/**
 * Files behind a drop: folders are walked to their end. The browser forgets the items once the event is over, so all
 * entries are taken before the first wait.
 */
export async function readDropped(items: DataTransferItemList): Promise<readonly HandedFile[]> {
  const entries = [...items].flatMap((item) => item.webkitGetAsEntry() ?? []);
  const found: HandedFile[] = [];
  for (const entry of entries) await walk(entry, found);
  return tidy(found);
}
export function readPicked(files: FileList): readonly HandedFile[] {
  return tidy([...files].map((file) => ({ path: file.webkitRelativePath || file.name, file })));
}

async function walk(entry: FileSystemEntry, found: HandedFile[]): Promise<void> {
  if (entry.isFile) {
    const file = await new Promise<File>((resolve, reject) => (entry as FileSystemFileEntry).file(resolve, reject)).catch(() => null);
    if (file) found.push({ path: entry.fullPath, file });
    return;
  }
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  for (;;) { // a reader gives at most 100 entries at a time
    const some = await new Promise<FileSystemEntry[]>((resolve, reject) => reader.readEntries(resolve, reject)).catch(() => []);
    if (some.length === 0) return;
    for (const each of some) await walk(each, found);
  }
}

/** What machines leave beside the files is not sent; a path is made of parts with one slash between. */
function tidy(files: readonly HandedFile[]): readonly HandedFile[] {
  return files
    .map(({ path, file }) => ({ path: path.split('/').filter((part) => part !== '').join('/'), file }))
    .filter(({ path, file }) => file.size > 0 && !/(^|\/)(\.[^/]*|Thumbs\.db|desktop\.ini|__MACOSX)(\/|$)/i.test(path))
    .sort((a, b) => (a.path < b.path ? -1 : 1));
}
