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
/** The two constructors used of WebAssembly, which neither ES2022 nor the Node types declare. */
interface WasmPlatform {
  readonly Module: new (bytes: Uint8Array) => CompiledWasm;
  readonly Instance: new (module: CompiledWasm, imports: object) => WasmInstance;
}
type CompiledWasm = object;
interface WasmInstance {
  readonly exports: object;
}
/** The object handed to the factory becomes the codec: its classes appear on it. */
interface WasmOptions {
  readonly print: () => void;
  readonly printErr: () => void;
  readonly instantiateWasm: (
    imports: object,
    receive: (instance: WasmInstance, module: CompiledWasm) => void,
  ) => object;
}
type WasmFactory = (options: WasmOptions) => Promise<unknown>;
type DecoderClass = new () => WasmDecoder;
interface LosslessDecoder {
  decode(buffer: ArrayBufferLike, offset: number, length: number): Uint8Array | Uint16Array;
  frame: { dimX: number; dimY: number; precision: number; numComp: number };
  select7: (component?: number) => number;
  getPreviousX: (component?: number) => number;
  getPreviousY: (component?: number) => number;
}

const require = createRequire(import.meta.url);
const { WebAssembly: wasm } = globalThis as unknown as { readonly WebAssembly: WasmPlatform };

/**
 * The frame decoders for one thread; give the answer to decodeFrame. Each is made when its first frame comes (about
 * 20 ms and 50 MB of address space), so an uncompressed series pays for none.
 */
export function loadCodecs(): Promise<FrameCodecs> {
  return Promise.resolve({
    'jpeg-lossless': decodeJpegLossless,
    'jpeg-ls': makeWasmCodec('@cornerstonejs/codec-charls', 'decodewasmjs', 'decodewasm', 'JpegLSDecoder'),
    'jpeg-2000': makeWasmCodec('@cornerstonejs/codec-openjpeg', 'decodewasmjs', 'decodewasm', 'J2KDecoder'),
    htj2k: makeWasmCodec('@cornerstonejs/codec-openjph', 'wasmjs', 'wasm', 'HTJ2KDecoder'),
  });
}

type DecodeCodestream = (codestream: Uint8Array) => Result<DecodedFrame, CodecFailureCode>;

/**
 * A decoder whose answer does not depend on what it met before: a damaged frame leaves memory behind inside the WASM
 * heap (some thousands of them made charls refuse good frames), so after each failure the instance is dropped and the
 * next frame gets a new one.
 */
function makeWasmCodec(
  packageName: string,
  scriptPath: string,
  wasmPath: string,
  className: string,
): DecodeCodestream {
  let compiled: { factory: WasmFactory; module: CompiledWasm } | null = null;
  let Decoder: DecoderClass | null = null;
  return (codestream) => {
    try {
      compiled ??= {
        factory: require(`${packageName}/${scriptPath}`) as WasmFactory,
        module: new wasm.Module(readFileSync(require.resolve(`${packageName}/${wasmPath}`))),
      };
      Decoder ??= openInstance(compiled.factory, compiled.module, className);
    } catch {
      return failMissing(packageName);
    }
    const frame = decodeOne(Decoder, codestream);
    if (frame === null) Decoder = null;
    return frame === null ? failUnreadable(codestream.length) : succeed(frame);
  };
}

function openInstance(factory: WasmFactory, module: CompiledWasm, className: string): DecoderClass {
  const ignore = (): void => undefined; // openjpeg prints three lines per frame
  const codec: WasmOptions & Record<string, unknown> = {
    print: ignore,
    printErr: ignore,
    // Handing over an instance at once makes the factory finish before it returns its promise.
    instantiateWasm: (imports, receive) => {
      const instance = new wasm.Instance(module, imports);
      receive(instance, module);
      return instance.exports;
    },
  };
  factory(codec).catch(ignore);
  const Decoder = codec[className];
  if (typeof Decoder !== 'function') throw new Error(`${className} is missing`);
  return Decoder as DecoderClass;
}

function decodeOne(Decoder: DecoderClass, codestream: Uint8Array): DecodedFrame | null {
  let decoder: WasmDecoder | null = null;
  try {
    decoder = new Decoder();
    // An end marker behind the last byte: charls counts to 2^31 (10 s and more) on some cut streams without one.
    const input = decoder.getEncodedBuffer(codestream.length + 2);
    input.set(codestream);
    input.set([0xff, 0xd9], codestream.length);
    decoder.decode();
    const info = decoder.getFrameInfo();
    if (!(info.width > 0 && info.height > 0)) return null; // openjpeg and openjph report a failure only this way
    return {
      rows: info.height,
      columns: info.width,
      samplesPerPixel: info.componentCount,
      bitsPerSample: info.bitsPerSample,
      isSigned: info.isSigned ?? null,
      // A copy: the buffer lies in WASM memory and is gone after delete().
      bytes: decoder.getDecodedBuffer().slice(),
    };
  } catch {
    return null;
  } finally {
    release(decoder);
  }
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
