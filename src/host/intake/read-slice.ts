import { succeed, type Result } from '../../core/result.ts';
import { convertToHu, readHuScale, type HuConversion } from '../../formats/dicom/convert-to-hu.ts';
import { decodeFrameIn, openPixelBytes } from '../../formats/dicom/decode-frame.ts';
import type { CtSliceHeader, DecodeFailureCode, FrameCodecs } from '../../formats/dicom/dicom-types.ts';
import { readInput, readPart, type ReadFailureCode } from './read-input.ts';
import { PADDING_HU } from './read-plain-frame.ts';
import type { SliceSource } from './scan-types.ts';

export type SliceFailureCode = ReadFailureCode | DecodeFailureCode;

/** Keeps the opened bytes of the last multi-frame file: its frames are asked for one after another. */
export interface SliceReader {
  /** Reads, decodes and converts one slice into `out`. */
  read(source: SliceSource, out: Int16Array): Result<HuConversion, SliceFailureCode>;
  /** Lets go of the kept file. */
  release(): void;
}

/**
 * A reader of slices for one thread.
 * Memory    one file at a time; of an uncompressed plain file only the frame's own bytes
 * Fails     as readInput and decodeFrame
 */
export function makeSliceReader(codecs: FrameCodecs): SliceReader {
  let kept: { path: string; label: string; bytes: Uint8Array } | null = null;
  /** Frame bytes of plain files are read into the same memory again and again: fresh pages cost more than reading. */
  let scratch = new Uint8Array(0);

  function open(source: SliceSource): Result<{ bytes: Uint8Array; header: CtSliceHeader }, SliceFailureCode> {
    const { input, header } = source;
    const { encoding } = header;
    const isDirect = input.kind === 'file' && !encoding.pixelData.isEncapsulated && !encoding.pixelData.isDeflated;
    if (isDirect) {
      const need = encoding.rows * encoding.columns * 2;
      if (scratch.length < need) scratch = new Uint8Array(need);
      return openFrame(source, input.path, scratch);
    }
    if (kept && kept.path === input.path && kept.label === input.label) return succeed({ bytes: kept.bytes, header });
    kept = null; // let the last file go before the next one is read
    const whole = readInput(input);
    if (!whole.ok) return whole;
    const opened = openPixelBytes(whole.value, encoding);
    if (!opened.ok) return opened;
    if (encoding.frameCount > 1) kept = { path: input.path, label: input.label, bytes: opened.value };
    return succeed({ bytes: opened.value, header });
  }

  return {
    read(source, out) {
      const opened = open(source);
      if (!opened.ok) return opened;
      const stored = decodeFrameIn(opened.value.bytes, opened.value.header, codecs);
      if (!stored.ok) return stored;
      return succeed(convertToHu(stored.value, readHuScale(source.header, PADDING_HU), out));
    },
    release() {
      kept = null;
    },
  };
}

/** Only the frame's own bytes of a plain uncompressed file, with a header that counts from there. */
function openFrame(source: SliceSource, path: string, scratch: Uint8Array): Result<{ bytes: Uint8Array; header: CtSliceHeader }, SliceFailureCode> {
  const { header } = source;
  const { encoding } = header;
  const frameBytes = encoding.rows * encoding.columns * 2;
  const start = encoding.pixelData.offset + header.frameIndex * frameBytes;
  const end = encoding.pixelData.offset + (encoding.pixelData.length ?? 0);
  const bytes = readPart(path, start, Math.max(0, Math.min(frameBytes, end - start)), scratch);
  if (!bytes.ok) return bytes;
  const pixelData = { ...encoding.pixelData, offset: 0, length: bytes.value.length };
  return succeed({ bytes: bytes.value, header: { ...header, frameIndex: 0, encoding: { ...encoding, frameCount: 1, pixelData } } });
}

