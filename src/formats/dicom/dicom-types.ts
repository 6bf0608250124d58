import type { LpsPoint, LpsVector } from '../../core/units/frames.ts';
import type { Result } from '../../core/result.ts';

/**
 * One CT frame without its pixels: all that sorting, grouping and checking a series needs. A single-frame file
 * gives one header, an enhanced multi-frame file one per frame (frameIndex 0 .. frameCount - 1); the rest of the
 * program treats frame and slice alike. null = the file does not say; the reason a null matters stands in `gaps`.
 * Units in names; positions and directions are DICOM patient LPS.
 */
export interface CtSliceHeader {
  readonly sopClassUid: string | null;
  readonly sopInstanceUid: string | null;
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly frameOfReferenceUid: string | null;
  readonly modality: string | null;
  /** (0008,0008), or Frame Type (0008,9007) of the frame: 'ORIGINAL', 'PRIMARY', 'AXIAL', ... */
  readonly imageType: readonly string[];
  /**
   * Patient ID, name and birth date in one string, normalised. For `===` (or a hash) only: never print, log or store.
   * null when all three are absent.
   */
  readonly patientKey: string | null;
  readonly patientSex: 'F' | 'M' | 'O' | null;
  /** HFS, FFS, HFP, ... (0018,5100). */
  readonly patientPosition: string | null;

  readonly frameIndex: number;
  readonly frameCount: number;
  readonly rows: number;
  readonly columns: number;

  /** [between rows (down), between columns (along a row)]; both finite and > 0, else null. */
  readonly pixelSpacingMm: readonly [rowMm: number, columnMm: number] | null;
  readonly sliceThicknessMm: number | null;
  readonly spacingBetweenSlicesMm: number | null;
  /** Centre of the first transmitted pixel. */
  readonly positionLps: LpsPoint | null;
  /** Unit vectors: along a row (column index grows), along a column (row index grows); null unless orthonormal. */
  readonly rowDirLps: LpsVector | null;
  readonly columnDirLps: LpsVector | null;
  readonly gantryTiltDeg: number | null;
  /** Table (0020,1041); only a hint when positionLps is absent. */
  readonly sliceLocationMm: number | null;

  /** HU = slope * stored + intercept. 1 and 0 with the gap 'rescale-missing' when the file does not say. */
  readonly rescaleSlope: number;
  readonly rescaleIntercept: number;
  /** 'HU' or another (0028,1054); null when absent. */
  readonly rescaleType: string | null;
  readonly encoding: PixelEncoding;

  readonly phasePercent: number | null;
  /** Which words the phase was taken from; 'derived' = trigger time over the R-R interval. null with no phase. */
  readonly phaseSource: 'nominal-percentage' | 'series-text' | 'derived' | null;
  readonly triggerTimeMs: number | null;
  readonly acquisitionTime: string | null;
  readonly acquisitionNumber: number | null;
  readonly temporalPositionIndex: number | null;
  readonly seriesDescription: string | null;
  readonly seriesNumber: number | null;
  readonly instanceNumber: number | null;
  readonly kernel: string | null;
  readonly kvp: number | null;
  /** true: (0018,0010) names an agent; false: present and says none; null: not stated. */
  readonly isContrastDeclared: boolean | null;
  readonly bodyPart: string | null;
  /** (0028,2110) '01': a lossy step lies somewhere in the picture's history; null when not stated. */
  readonly isLossyCompressed: boolean | null;
  readonly gaps: readonly HeaderGapCode[];
}

/** What a header lacks. Which of them stop a measurement is for the reader of the series to decide. */
export type HeaderGapCode =
  | 'position-missing'
  | 'orientation-missing'
  | 'orientation-not-orthonormal'
  | 'pixel-spacing-missing'
  | 'slice-thickness-missing'
  | 'rescale-missing'
  | 'rescale-not-hu'
  | 'frame-of-reference-missing'
  | 'series-uid-missing'
  | 'instance-uid-missing'
  | 'phase-missing'
  | 'patient-missing'
  | 'meta-header-missing'
  | 'transfer-syntax-guessed';

/** How the stored values of a file are packed; one object shared by all frames of the file. */
export interface PixelEncoding {
  readonly transferSyntaxUid: string;
  readonly rows: number;
  readonly columns: number;
  readonly frameCount: number;
  readonly samplesPerPixel: number;
  readonly photometric: string;
  readonly bitsAllocated: number;
  readonly bitsStored: number;
  readonly highBit: number;
  readonly isSigned: boolean;
  /** (0028,0120) and (0028,0121), as stored values; a range when both are present. */
  readonly paddingStored: number | null;
  readonly paddingLimitStored: number | null;
  readonly pixelData: PixelLocation;
}

/** Where (7FE0,0010) lies. Known from the head of the file alone. */
export interface PixelLocation {
  /** First byte of the value, counted in the file, or in the inflated file when `isDeflated`. */
  readonly offset: number;
  /** Bytes of the value; null for encapsulated data (undefined length). */
  readonly length: number | null;
  readonly isEncapsulated: boolean;
  readonly isDeflated: boolean;
  /** First byte of the fragment sequence's frame offsets (7FE0,0001), u64 each, with its count; null when absent. */
  readonly extendedOffsets: { readonly offset: number; readonly count: number } | null;
}

/** Stored values of one frame, row by row, sign-extended from bitsStored; 16 bit per sample. */
export type StoredValues = Int16Array | Uint16Array;

/** What a codec returns: one frame, samples as the codestream holds them. */
export interface DecodedFrame {
  readonly rows: number;
  readonly columns: number;
  readonly samplesPerPixel: number;
  readonly bitsPerSample: number;
  /** As the codestream says; null when that format does not say (JPEG lossless, JPEG-LS). */
  readonly isSigned: boolean | null;
  /** Little endian, 1 byte per sample up to 8 bits, else 2; a copy that the caller owns. */
  readonly bytes: Uint8Array;
}

export type CodecName = 'jpeg-lossless' | 'jpeg-ls' | 'jpeg-2000' | 'htj2k';
export type CodecFailureCode = 'codestream-unreadable' | 'codec-missing';

/**
 * The compressed-frame decoders. They are CommonJS and WASM, so the host makes them (src/host/jobs/load-codecs.ts)
 * and hands them in; this ring sees plain functions. A decoder never throws.
 */
export type FrameCodecs = {
  readonly [Name in CodecName]: (codestream: Uint8Array) => Result<DecodedFrame, CodecFailureCode>;
};

export type ParseFailureCode =
  /** Not one DICOM element could be read: some other kind of file. */
  | 'not-dicom'
  /** Ends inside an element. */
  | 'file-truncated'
  /** Only the head was handed over and pixel data was not reached: hand over more bytes (not a fault of the file). */
  | 'head-too-short'
  | 'structure-broken'
  /** Nested, long or expanding beyond the bounds set for one file. */
  | 'structure-too-large'
  | 'deflate-broken'
  | 'transfer-syntax-unsupported';

export type HeaderFailureCode =
  /** A report, waveform, segmentation, ...: not a picture. */
  | 'no-pixel-data'
  /** A picture, but not one CT grey image. */
  | 'not-ct'
  | 'not-greyscale'
  | 'image-size-invalid'
  | 'pixel-format-unsupported'
  | 'too-many-frames';

export type DecodeFailureCode =
  | 'transfer-syntax-unsupported'
  | 'transfer-syntax-lossy'
  | 'pixel-data-truncated'
  | 'pixel-data-too-large'
  | 'frame-missing'
  | 'frame-size-differs'
  | 'fragments-broken'
  | 'rle-broken'
  | 'deflate-broken'
  | CodecFailureCode;
