import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { CodecFailureCode, DecodedFrame, FrameCodecs } from '../../formats/dicom/dicom-types.ts';

/** What the three WASM codecs have in common (emscripten, embind). */
interface WasmDecoder {
  getEncodedBuffer(length: number): Uint8Array;
  decode(): void;
  getDecodedBuffer(): Uint8Array;
  getFrameInfo(): {
    width: number;
    height: number;
    bitsPerSample: number;
    componentCount: number;
    isSigned?: boolean;
  };
  delete(): void;
}
type WasmModule = Readonly<Record<string, new () => WasmDecoder>>;
type WasmFactory = (options: {
  wasmBinary: Uint8Array;
  print: () => void;
  printErr: () => void;
}) => Promise<WasmModule>;
interface LosslessDecoder {
  decode(buffer: ArrayBufferLike, offset: number, length: number): Uint8Array | Uint16Array;
  frame: { dimX: number; dimY: number; precision: number; numComp: number };
  select7: (component?: number) => number;
  getPreviousX: (component?: number) => number;
  getPreviousY: (component?: number) => number;
}

const require = createRequire(import.meta.url);

/**
 * Loads the frame decoders once per thread (about 30 ms); they hold no state between frames. Give the answer to
 * decodeFrame. The codecs are CommonJS; their WASM is read from disk here because they would look for a URL.
 */
export async function loadCodecs(): Promise<FrameCodecs> {
  const [jpegLs, jpeg2000, htj2k] = await Promise.all([
    openWasmCodec('@cornerstonejs/codec-charls', 'decodewasmjs', 'decodewasm', 'JpegLSDecoder'),
    openWasmCodec('@cornerstonejs/codec-openjpeg', 'decodewasmjs', 'decodewasm', 'J2KDecoder'),
    openWasmCodec('@cornerstonejs/codec-openjph', 'wasmjs', 'wasm', 'HTJ2KDecoder'),
  ]);
  return { 'jpeg-lossless': decodeJpegLossless, 'jpeg-ls': jpegLs, 'jpeg-2000': jpeg2000, htj2k };
}

type DecodeCodestream = (codestream: Uint8Array) => Result<DecodedFrame, CodecFailureCode>;

async function openWasmCodec(
  packageName: string,
  scriptPath: string,
  wasmPath: string,
  className: string,
): Promise<DecodeCodestream> {
  const factory = require(`${packageName}/${scriptPath}`) as WasmFactory;
  const wasmBinary = readFileSync(require.resolve(`${packageName}/${wasmPath}`));
  const ignore = (): void => undefined; // openjpeg prints three lines per frame
  const module = await factory({ wasmBinary, print: ignore, printErr: ignore });
  const Decoder = module[className];
  if (Decoder === undefined) return () => failMissing(packageName);
  return (codestream) => {
    let decoder: WasmDecoder | null = null;
    try {
      decoder = new Decoder();
      decoder.getEncodedBuffer(codestream.length).set(codestream);
      decoder.decode();
      const info = decoder.getFrameInfo();
      // A copy: the buffer lies in WASM memory and is gone after delete().
      const bytes = decoder.getDecodedBuffer().slice();
      return succeed({
        rows: info.height,
        columns: info.width,
        samplesPerPixel: info.componentCount,
        bitsPerSample: info.bitsPerSample,
        isSigned: info.isSigned ?? null,
        bytes,
      });
    } catch {
      return failUnreadable(codestream.length);
    } finally {
      release(decoder);
    }
  };
}

function release(decoder: WasmDecoder | null): void {
  try {
    decoder?.delete();
  } catch {
    // a decoder that failed inside WASM may not be freed twice; its frame is refused already
  }
}

function decodeJpegLossless(codestream: Uint8Array): Result<DecodedFrame, CodecFailureCode> {
  const { Decoder } = require('@cornerstonejs/jpeg-lossless-decoder-js') as {
    Decoder: new () => LosslessDecoder;
  };
  try {
    const decoder = new Decoder();
    // Predictor 7 is (Ra + Rb) >> 1 (ITU-T T.81 table H.1); the package divides, which rounds toward 0 on wrap-around.
    decoder.select7 = (component) => (decoder.getPreviousX(component) + decoder.getPreviousY(component)) >> 1;
    const samples = decoder.decode(codestream.buffer, codestream.byteOffset, codestream.length);
    const { dimX, dimY, precision, numComp } = decoder.frame;
    const bytes = new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength);
    return succeed({
      rows: dimY,
      columns: dimX,
      samplesPerPixel: numComp,
      bitsPerSample: precision,
      isSigned: null,
      bytes,
    });
  } catch {
    return failUnreadable(codestream.length);
  }
}

function failUnreadable(bytes: number): Result<never, CodecFailureCode> {
  return fail(
    'codestream-unreadable',
    `A compressed frame of ${bytes} bytes cannot be decoded.`,
    'Copy or export the file again from its source.',
    { bytes },
  );
}
function failMissing(packageName: string): Result<never, CodecFailureCode> {
  return fail(
    'codec-missing',
    `The decoder ${packageName} does not offer what is needed.`,
    'Install the program again.',
    { packageName },
  );
}
