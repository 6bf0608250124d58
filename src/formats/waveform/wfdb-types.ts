export interface WfdbSignal {
  /** Plain name of its file; `~`: none (a layout, or a gap). */
  readonly file: string;
  readonly storage: WfdbStorage;
  readonly samplesPerFrame: number;
  readonly skewFrames: number;
  readonly byteOffset: number;
  /** Units of the converter in one physical unit. */
  readonly gain: number;
  /** The file gives no gain: not calibrated. */
  readonly isCalibrated: boolean;
  readonly baseline: number;
  /** null: the header does not say, which means mV. */
  readonly unit: string | null;
  readonly initial: number | null;
  readonly checksum: number | null;
  readonly label: string;
}

export interface WfdbHeader {
  readonly record: string;
  readonly framesPerS: number;
  /** null: as long as its files. */
  readonly frames: number | null;
  readonly startedAt: string | null;
  readonly signals: readonly WfdbSignal[];
  /** null: a record of one piece. */
  readonly segments: readonly WfdbSegment[] | null;
}

export interface WfdbSegment {
  /** `~`: a gap. */
  readonly name: string;
  readonly frames: number;
}

/** Numbers as the format itself names them. */
export type WfdbStorage = 8 | 16 | 24 | 32 | 61 | 80 | 160 | 212 | 310 | 311;
export const WFDB_STORAGES: readonly WfdbStorage[] = [8, 16, 24, 32, 61, 80, 160, 212, 310, 311];
