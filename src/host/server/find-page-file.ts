import { realpath, stat } from 'node:fs/promises';
import { join, sep } from 'node:path';

/** The file that an address names, or null: outside the folder, hidden, not a plain file, or not there. */
export async function findPageFile(folder: string, pathname: string): Promise<string | null> {
  let parts: string[];
  try {
    parts = pathname.slice(1).split('/').map(decodeURIComponent);
  } catch {
    return null; // broken percent signs
  }
  if (parts.some((part) => part === '' || part.startsWith('.') || /[/\\:\0]/.test(part))) return null;
  try {
    const top = await realpath(folder);
    const path = await realpath(join(top, ...parts)); // follows links, so that a link out of the folder is seen
    return path.startsWith(top + sep) && (await stat(path)).isFile() ? path : null;
  } catch {
    return null;
  }
}

export const CONTENT_TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.ttf': 'font/ttf',
  '.wasm': 'application/wasm',
  '.txt': 'text/plain; charset=utf-8',
  '.webmanifest': 'application/manifest+json',
  '.pdf': 'application/pdf',
  '.stl': 'model/stl',
  '.dcm': 'application/dicom',
};
