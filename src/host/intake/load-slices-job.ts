import { createHash } from 'node:crypto';
import { fail, succeed } from '../../core/result.ts';
import type { FrameCodecs } from '../../formats/dicom/dicom-types.ts';
import { makePlainReader } from './read-plain-frame.ts';
import type { SliceReader } from './read-slice.ts';
import type { SliceSource } from './scan-types.ts';

export interface LoadSlicesInput {
  /** The whole volume; slice k begins at k * rows * columns. */
  readonly samplesHu: Int16Array;
  readonly slices: readonly { readonly k: number; readonly source: SliceSource }[];
  /** Without hashes a look at a few slices is cheaper. */
  readonly wantsHashes: boolean;
}
export interface LoadSlicesOutput {
  /** SHA-256 of each slice's HU and geometry, in the order of the input; '' when not wanted or not read. */
  readonly hashes: readonly string[];
  readonly paddingCount: number;
  readonly clippedCount: number;
  readonly failures: readonly { readonly k: number; readonly code: string }[];
}

const readers: { plain: SliceReader | null; packed: SliceReader | null } = { plain: null, packed: null };

const readPlain = makePlainReader();

/** Decoders are loaded only for compressed pictures: they take longer to start than a plain series to read. */
async function openReader(slices: LoadSlicesInput['slices']): Promise<SliceReader> {
  const { makeSliceReader } = await import('./read-slice.ts');
  const isPacked = slices.some(({ source }) => source.header.encoding.pixelData.isEncapsulated);
  if (!isPacked) return (readers.plain ??= makeSliceReader(NO_CODECS));
  const { loadCodecs } = await import('../jobs/load-codecs.ts');
  return (readers.packed ??= makeSliceReader(await loadCodecs()));
}

const missing = () => fail('codec-missing' as const, 'No decoder was loaded.', 'Report this as a defect.', {});
const NO_CODECS: FrameCodecs = { 'jpeg-lossless': missing, 'jpeg-ls': missing, 'jpeg-2000': missing, htj2k: missing };

/** Job 'load-slices': reads, decodes and converts whole slices straight into the shared volume. */
export async function loadSlices(input: LoadSlicesInput): Promise<LoadSlicesOutput> {
  let reader: SliceReader | null = null; // made for the first slice that is not plain
  const hashes: string[] = [];
  const failures: { k: number; code: string }[] = [];
  let paddingCount = 0;
  let clippedCount = 0;
  for (const { k, source } of input.slices) {
    const { rows, columns } = source.header;
    const out = input.samplesHu.subarray(k * rows * columns, (k + 1) * rows * columns);
    const plain = readPlain(source, out);
    const read = plain ? succeed(plain) : (reader ??= await openReader(input.slices)).read(source, out);
    if (read.ok) {
      paddingCount += read.value.paddingCount;
      clippedCount += read.value.clippedCount;
      hashes.push(input.wantsHashes ? hashSlice(out, source) : '');
    } else {
      failures.push({ k, code: read.failure.code });
      hashes.push('');
    }
  }
  reader?.release();
  return { hashes, paddingCount, clippedCount, failures };
}

/** Of what is measured, not of the file: the same slice in another encoding has the same hash. */
function hashSlice(hu: Int16Array, source: SliceSource): string {
  const { rows, columns, pixelSpacingMm, positionLps, rowDirLps, columnDirLps } = source.header;
  const geometry = JSON.stringify([rows, columns, pixelSpacingMm, positionLps, rowDirLps, columnDirLps]);
  return createHash('sha256').update(geometry).update(new Uint8Array(hu.buffer, hu.byteOffset, hu.byteLength)).digest('hex');
}

