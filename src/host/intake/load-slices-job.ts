import { createHash } from 'node:crypto';
import { fail } from '../../core/result.ts';
import type { FrameCodecs } from '../../formats/dicom/dicom-types.ts';
import { loadCodecs } from '../jobs/load-codecs.ts';
import { makeSliceReader, type SliceReader } from './read-slice.ts';
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

/** Decoders are loaded only for compressed pictures: they take longer to start than a plain series to read. */
async function openReader(slices: LoadSlicesInput['slices']): Promise<SliceReader> {
  const isPacked = slices.some(({ source }) => source.header.encoding.pixelData.isEncapsulated);
  if (isPacked) return (readers.packed ??= makeSliceReader(await loadCodecs()));
  return (readers.plain ??= makeSliceReader(NO_CODECS));
}

const missing = () => fail('codec-missing' as const, 'No decoder was loaded.', 'Report this as a defect.', {});
const NO_CODECS: FrameCodecs = { 'jpeg-lossless': missing, 'jpeg-ls': missing, 'jpeg-2000': missing, htj2k: missing };

/** Job 'load-slices': reads, decodes and converts whole slices straight into the shared volume. */
export async function loadSlices(input: LoadSlicesInput): Promise<LoadSlicesOutput> {
  const reader = await openReader(input.slices);
  const hashes: string[] = [];
  const failures: { k: number; code: string }[] = [];
  let paddingCount = 0;
  let clippedCount = 0;
  for (const { k, source } of input.slices) {
    const { rows, columns } = source.header;
    const out = input.samplesHu.subarray(k * rows * columns, (k + 1) * rows * columns);
    const read = reader.read(source, out);
    if (read.ok) {
      paddingCount += read.value.paddingCount;
      clippedCount += read.value.clippedCount;
      hashes.push(input.wantsHashes ? hashSlice(out, source) : '');
    } else {
      failures.push({ k, code: read.failure.code });
      hashes.push('');
    }
  }
  reader.release();
  return { hashes, paddingCount, clippedCount, failures };
}

/** Of what is measured, not of the file: the same slice in another encoding has the same hash. */
function hashSlice(hu: Int16Array, source: SliceSource): string {
  const { rows, columns, pixelSpacingMm, positionLps, rowDirLps, columnDirLps } = source.header;
  const geometry = JSON.stringify([rows, columns, pixelSpacingMm, positionLps, rowDirLps, columnDirLps]);
  return createHash('sha256').update(geometry).update(new Uint8Array(hu.buffer, hu.byteOffset, hu.byteLength)).digest('hex');
}

