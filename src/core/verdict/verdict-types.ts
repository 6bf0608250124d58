import type { Reason } from '../units/fact.ts';

/** Leak severity on the five-class scale (VARC-3): 0 none, 1 mild, 2 moderate, 3 moderate to severe, 4 severe (job.md, D44). */
export type LeakInterval = readonly [low: number, high: number];
export type WitnessKind = 'pressure' | 'echo' | 'angiogram';
export const WITNESS_KINDS: readonly WitnessKind[] = ['pressure', 'echo', 'angiogram'];

/**
 * What one witness says of the leak. Valid only with method, time after release, heart rate and a loading note, and not
 * older than the last manoeuvre (job.md, "Three-witness verdict").
 */
export interface LeakWitness {
  readonly kind: WitnessKind;
  /** null: says nothing (then `reasons` says why). */
  readonly interval: LeakInterval | null;
  readonly isValid: boolean;
  /** A grade that a person gave, not a number that was measured. */
  readonly isByEye?: boolean | undefined;
  /** A rule of memory or common practice (status M) acted. */
  readonly isUnverified?: boolean | undefined;
  /** How it was read: the rules that acted, with their source. */
  readonly method: string;
  readonly from: readonly string[];
  readonly by: string;
  /** ISO 8601 UTC. */
  readonly at: string;
  readonly minutesAfterRelease: number | null;
  readonly heartRatePerMin: number | null;
  readonly loadingNote: string | null;
  readonly reasons: readonly Reason[];
}
/** The one order in which remedies are always listed (job.md, D46, E12). */
export const REMEDIES = ['wait', 'post-dilate', 'second-valve', 'snare', 'closure', 'surgery'] as const;
export type RemedyCode = (typeof REMEDIES)[number];
export type RemedyState = 'open' | 'closed' | 'cannot say';
export type VerdictWord = 'AGREE' | 'DISAGREE' | 'NOT SETTLED' | 'ONE WITNESS ONLY' | 'CANNOT SAY';
