import { fail, succeed, type Result } from '../../core/result.ts';
import { parsePart10 } from '../../formats/dicom/parse-part10.ts';
import { readItems, readTexts, readUid } from '../../formats/dicom/read-values.ts';
import type { InputFile } from './intake-types.ts';
import { readInput, readInputHead } from './read-input.ts';

const MEDIA_DIRECTORY_CLASS = '1.2.840.10008.1.3.10';
const MAX_DICOMDIR_BYTES = 256 << 20;
const MAX_REFERENCES = 200_000;

/**
 * The file references of a DICOMDIR, each as its path components; null when the file is something else.
 * Fails   dicomdir-broken
 * Source  DICOM PS3.3 F.3.2.2, PS3.10 8.5
 */
export function readDicomdir(input: InputFile): Result<readonly (readonly string[])[], 'dicomdir-broken'> | null {
  const head = readInputHead(input, 4096);
  if (!head.ok || !includesText(head.value, MEDIA_DIRECTORY_CLASS)) return null;
  if (input.bytes > MAX_DICOMDIR_BYTES) return failBroken();
  const bytes = readInput(input);
  if (!bytes.ok) return failBroken();
  const parsed = parsePart10(bytes.value);
  if (!parsed.ok) return failBroken();
  if (readUid(parsed.value.values, 'x00020002') !== MEDIA_DIRECTORY_CLASS) return null;
  const references: (readonly string[])[] = [];
  for (const record of readItems(parsed.value.values, 'x00041220')) {
    const parts = readTexts(record, 'x00041500');
    if (parts.length === 0) continue;
    if (parts.length > 64 || references.length >= MAX_REFERENCES) return failBroken();
    // A component is a name, never a path.
    if (parts.some((part) => part === '' || part === '.' || part === '..' || /[\\/\0]/.test(part))) return failBroken();
    references.push(parts);
  }
  return references.length > 0 ? succeed(references) : failBroken();
}

function includesText(bytes: Uint8Array, text: string): boolean {
  return Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).includes(text, 0, 'latin1');
}

function failBroken() {
  return fail('dicomdir-broken' as const, 'The DICOMDIR cannot be read or names no files.', 'Give the folder beside it instead.', {});
}
