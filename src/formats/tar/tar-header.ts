import { fail, succeed, type Result } from '../../core/result.ts';

/**
 * Headers of a POSIX ustar archive (IEEE Std 1003.1, pax, "ustar Interchange Format"): enough for files with short names,
 * so that any tar program can look into what we write.
 */
export const TAR_BLOCK = 512;
const MOST_NAME = 100;
/** Eleven octal digits. */
const MOST_BYTES = 8 ** 11 - 1;

export interface TarEntry {
  readonly name: string;
  readonly bytes: number;
}
export type TarFailureCode = 'tar-header-broken' | 'tar-entry-not-file';

/** Bytes of padding behind a file of that length. */
export const padOf = (bytes: number): number => (TAR_BLOCK - (bytes % TAR_BLOCK)) % TAR_BLOCK;
/** Two empty blocks end an archive. */
export const makeTarEnd = (): Uint8Array => new Uint8Array(2 * TAR_BLOCK);

/** Fails: never for names of our own; a name or length that ustar cannot hold is a defect and throws. */
export function writeTarHeader({ name, bytes }: TarEntry, seconds: number): Uint8Array {
  const encoded = new TextEncoder().encode(name);
  if (encoded.length === 0 || encoded.length > MOST_NAME || !(bytes >= 0 && bytes <= MOST_BYTES)) throw new Error('The entry does not fit into an archive of this kind.');
  const header = new Uint8Array(TAR_BLOCK);
  const put = (at: number, text: string): void => header.set(new TextEncoder().encode(text), at);
  const octal = (at: number, digits: number, value: number): void => put(at, value.toString(8).padStart(digits, '0'));
  header.set(encoded, 0);
  octal(100, 7, 0o600);
  octal(108, 7, 0);
  octal(116, 7, 0);
  octal(124, 11, bytes);
  octal(136, 11, Math.max(0, Math.floor(seconds)));
  put(148, '        '); // the checksum is taken with blanks in its own place
  put(156, '0');
  put(257, 'ustar\u000000');
  octal(148, 6, sumOf(header));
  header[154] = 0;
  header[155] = 0x20;
  return header;
}

/**
 * The entry that a header block begins; null for the empty block at the end.
 * Fails   tar-header-broken, tar-entry-not-file
 */
export function parseTarHeader(block: Uint8Array): Result<TarEntry | null, TarFailureCode> {
  const broken = fail('tar-header-broken', 'A header of the archive is damaged.', 'Take another copy of the file.');
  if (block.length !== TAR_BLOCK) return broken;
  if (block.every((byte) => byte === 0)) return succeed(null);
  const text = (at: number, length: number): string => new TextDecoder('latin1').decode(block.subarray(at, at + length)).replace(/\u0000.*$/s, '');
  const number = (at: number, length: number): number => (/^[0-7]{1,11} *$/.test(text(at, length)) ? Number.parseInt(text(at, length), 8) : Number.NaN);
  const blanked = Uint8Array.from(block);
  blanked.fill(0x20, 148, 156);
  if (number(148, 8) !== sumOf(blanked) || text(257, 5) !== 'ustar') return broken;
  const type = text(156, 1);
  if (type !== '0' && type !== '') return fail('tar-entry-not-file', 'The archive holds something that is not a file.', 'Give a file that trinadir backup wrote.', { type });
  const bytes = number(124, 12);
  return Number.isSafeInteger(bytes) && text(345, 155) === '' ? succeed({ name: text(0, MOST_NAME), bytes }) : broken;
}

const sumOf = (block: Uint8Array): number => block.reduce((sum, byte) => sum + byte, 0);
