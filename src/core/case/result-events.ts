import type { Recording } from '../haemodynamics/recording-types.ts';
import type { AvBlock, BundleBlock, EcgMoment, EcgRhythm } from '../rhythm/rhythm-types.ts';
import type { RemedyCode, WitnessKind } from '../verdict/verdict-types.ts';
import type { IdentityCheck } from './identity-types.ts';

/** What a person says beside a witness; `takenAt` ISO 8601 UTC. Without rate and loading it is no witness (job.md, D-rules). */
export interface WitnessNote {
  readonly takenAt: string;
  readonly heartRatePerMin: number | null;
  readonly loadingNote: string | null;
}
/** Points that a person set on an ultrasound picture; columns and rows of its pixels. `blobSha256`: the picture. */
export interface EchoTrace {
  readonly blobSha256: string;
  readonly frame: number;
  readonly is: 'envelope' | 'slope' | 'distance' | 'clock';
  readonly points: readonly (readonly [column: number, row: number])[];
}
/** 95 % half-widths by field, as a report states them. */
export type HalfWidths = Readonly<Record<string, number>>;
/** What a person reads off an ECG; null: not read, which is never "normal". */
export interface EcgWords {
  readonly at: string;
  readonly rhythm: EcgRhythm | null;
  readonly prMs: number | null;
  readonly qrsMs: number | null;
  readonly ratePerMin: number | null;
  readonly hvMs: number | null;
  readonly bundleBlock: BundleBlock | null;
  readonly avBlock: AvBlock | null;
}
/** When pressures were taken: before any balloon, or after release. */
export type RecordingMoment = 'baseline' | 'after';
/** What the team did with the result: one of the remedies, or it finished. */
export type ResultDecision = RemedyCode | 'finish';

/**
 * What may happen to a case between release and discharge. Numbers that were measured stand in documents named by hash; grades
 * of readers stand in sealed documents, so that no log shows one before its reader may see it (job.md, D43, E11).
 */
export interface ResultEventData {
  /** Pressures belong to this case. `blobSha256`: the file as it came (of a WFDB record a ZIP of its parts). `answerSha256`: what was measured; null: refused, with its reason. */
  'recording.joined': {
    readonly recordingId: string;
    readonly moment: RecordingMoment;
    readonly blobSha256: string;
    readonly answerSha256: string | null;
    readonly refusal: { readonly code: string; readonly text: string; readonly next: string } | null;
    readonly format: Recording['format'];
    /** Text of `--channels`; null: by their labels. */
    readonly channels: string | null;
    readonly takenAt: string;
    readonly durationS: number;
    readonly identity: IdentityCheck;
  };
  /** `of`: id of a recording, an echo or an angiogram. The newest counts. */
  'witness.noted': { readonly of: string } & WitnessNote;
  /** Of another patient, of another moment, or not to be used; it stays in the log. */
  'witness.withdrawn': { readonly of: string; readonly because: string };
  'echo.begun': { readonly echoId: string; readonly takenAt: string };
  /** A report (`fields`: what was read in it) or a picture with calibrated regions belongs to an echo. */
  'echo.joined': { readonly echoId: string; readonly blobSha256: string; readonly is: 'report' | 'picture'; readonly fields: Readonly<Record<string, string | number | boolean>>; readonly halfWidths?: HalfWidths | undefined; readonly identity: IdentityCheck };
  /** One item of an echo (echo-fields.ts); null takes it back. `trace`: what it was measured from; `halfWidth`: 95 %, of the trace. */
  'echo.entered': { readonly echoId: string; readonly field: string; readonly value: string | number | boolean | null; readonly trace: EchoTrace | null; readonly halfWidth?: number | null | undefined };
  /** Densities of an angiographic run were measured; regions and frames stand in the answer. */
  'angiogram.measured': { readonly angiogramId: string; readonly runId: string; readonly answerSha256: string };
  /** A reader's own grade was stored before they saw another's. `sealedSha256`: trinadir.grade/1. */
  'grade.sealed': { readonly gradeId: string; readonly of: WitnessKind | 'overall'; readonly sealedSha256: string };
  /** Readers of the result who are in the room: ids of persons. */
  'readers.present': { readonly personIds: readonly string[] };
  /** This person was shown other grades, or the verdict: the first time in a round, and again when the verdict says something else than what they saw. */
  'verdict.shown': { readonly what: 'verdict' | 'grades'; readonly answerSha256: string };
  /** One item of the result or of the rhythm watch (result-fields.ts); null takes it back. */
  'result.entered': { readonly field: string; readonly value: string | number | boolean | null };
  /** What the team did; the tool never chooses. `answerSha256`: the verdict that was looked at; null: none was. */
  'result.decided': { readonly decision: ResultDecision; readonly because: string; readonly answerSha256: string | null };
  /** What a person reads off the ECG of a moment; null takes it back. */
  'ecg.entered': { readonly moment: EcgMoment; readonly words: EcgWords | null };
  /** A record of an ECG belongs to this case and was measured. */
  'ecg.joined': { readonly moment: EcgMoment; readonly blobSha256: string; readonly readingSha256: string; readonly takenAt: string; readonly identity: IdentityCheck };
}
export type ResultEventKind = keyof ResultEventData;

/** A reader's own grade, sealed: only its hash stands in the log. `nonce` keeps it from being guessed. */
export interface SealedGrade {
  readonly format: 'trinadir.grade/1';
  readonly of: WitnessKind | 'overall';
  /** Five-class scale, from one grade to another (verdict-types.ts). */
  readonly low: number;
  readonly high: number;
  readonly takenAt: string;
  readonly heartRatePerMin: number | null;
  readonly loadingNote: string | null;
  readonly nonce: string;
}
