import { fail, succeed, type Result } from '../../core/result.ts';
import { parsePart10 } from '../../formats/dicom/parse-part10.ts';
import { readDicomdir, type DicomdirListing } from '../../formats/dicom/read-dicomdir.ts';
import type { InputFile } from './intake-types.ts';
import { readInput, readInputHead } from './read-input.ts';

const MEDIA_DIRECTORY_CLASS = '1.2.840.10008.1.3.10';
const MAX_DICOMDIR_BYTES = 256 << 20;

/**
 * The files a DICOMDIR names; null when the input is something else.
 * Fails   dicomdir-broken
 */
export function openDicomdir(input: InputFile): Result<DicomdirListing, 'dicomdir-broken'> | null {
  const head = readInputHead(input, 4096);
  if (!head.ok) return null;
  const { buffer, byteOffset, length } = head.value;
  if (!Buffer.from(buffer, byteOffset, length).includes(MEDIA_DIRECTORY_CLASS, 0, 'latin1')) return null;
  if (input.bytes > MAX_DICOMDIR_BYTES) return failBroken();
  const bytes = readInput(input);
  const parsed = bytes.ok ? parsePart10(bytes.value) : bytes;
  if (!parsed.ok) return failBroken();
  const listing = readDicomdir(parsed.value);
  if (!listing.ok) return null; // the class stands somewhere in an ordinary object
  return listing.value.imagePaths.length > 0 ? succeed(listing.value) : failBroken();
}

function failBroken() {
  return fail('dicomdir-broken' as const, 'The DICOMDIR cannot be read or names no pictures.', 'Give the folder beside it instead.', {});
}
