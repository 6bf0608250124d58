import type { HuConversion } from '../../formats/dicom/convert-to-hu.ts';
import { convertWordsToHu, readHuScale } from '../../formats/dicom/convert-to-hu.ts';
import type { CtSliceHeader } from '../../formats/dicom/dicom-types.ts';
import { findSyntaxRule } from '../../formats/dicom/transfer-syntaxes.ts';
import { readPart } from './read-input.ts';
import type { SliceSource } from './scan-types.ts';

/** Written where a scanner declares that it had no data: air, so that no edge appears that is not there. */
export const PADDING_HU = -1024;

const IS_LITTLE_ENDIAN = new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

/** Bits that carry the value; null when the words of the file are not the stored values as they are. */
function findPlainBits({ encoding }: CtSliceHeader): number | null {
  const rule = findSyntaxRule(encoding.transferSyntaxUid);
  const isPlain = rule?.kind === 'native' && !rule.isBigEndian && IS_LITTLE_ENDIAN && encoding.bitsAllocated === 16 &&
    !encoding.pixelData.isEncapsulated && !encoding.pixelData.isDeflated;
  if (!isPlain || encoding.highBit !== encoding.bitsStored - 1) return null;
  return encoding.bitsStored === 16 || encoding.paddingStored === null ? encoding.bitsStored : null;
}

/**
 * Reads uncompressed slices of plain files with nothing but the file system: no decoder is loaded for them, and every
 * pixel is touched once. Gives null for a slice that needs more, or that is cut short; the full reader then says why.
 * Memory    one frame, read into the same memory again and again: fresh pages cost more than reading
 */
export function makePlainReader(): (source: SliceSource, out: Int16Array) => HuConversion | null {
  let scratch = new Uint8Array(0);
  return ({ input, header }, out) => {
    const bits = input.kind === 'file' ? findPlainBits(header) : null;
    if (bits === null) return null;
    const { encoding, frameIndex } = header;
    const pixels = encoding.rows * encoding.columns;
    const start = encoding.pixelData.offset + frameIndex * pixels * 2;
    if (start + pixels * 2 > encoding.pixelData.offset + (encoding.pixelData.length ?? 0)) return null;
    if (scratch.length < pixels * 2) scratch = new Uint8Array(pixels * 2);
    const bytes = readPart(input.path, start, pixels * 2, scratch);
    if (!bytes.ok || bytes.value.length < pixels * 2) return null;
    const words = encoding.isSigned ? new Int16Array(scratch.buffer, 0, pixels) : new Uint16Array(scratch.buffer, 0, pixels);
    return convertWordsToHu(words, bits, readHuScale(header, PADDING_HU), out);
  };
}
