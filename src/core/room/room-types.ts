import type { CameraView } from '../projection/camera-view.ts';
import type { DepthReading } from '../projection/depth-types.ts';
import type { Tension } from '../release/release-types.ts';
import type { RemedyCode, RemedyState, VerdictWord, WitnessKind } from '../verdict/verdict-types.ts';

/** Steps of the procedure in time order; `position`, `decision` and `result` are the hold points A, B and C (job.md, B). */
export type RoomPhase = 'identity' | 'access' | 'crossing' | 'valve-in' | 'position' | 'releasing' | 'decision' | 'released' | 'result' | 'closing' | 'handover';
export const ROOM_PHASES: readonly RoomPhase[] = ['identity', 'access', 'crossing', 'valve-in', 'position', 'releasing', 'decision', 'released', 'result', 'closing', 'handover'];

/** Why a frame may have moved; the order of the board, which never changes (job.md, D38). */
export type CauseCode = 'start-height' | 'septal-bulge' | 'taper' | 'wire-bias' | 'no-pacing' | 'calcium' | 'undersized';
export const CAUSE_CODES: readonly CauseCode[] = ['start-height', 'septal-bulge', 'taper', 'wire-bias', 'no-pacing', 'calcium', 'undersized'];

/** What one tap in the room says. Nothing here names a patient; `who` is a role or a colleague as the room says it. */
export type RoomEntry =
  | { readonly is: 'phase'; readonly phase: RoomPhase }
  | { readonly is: 'pacing'; readonly isOn: boolean; readonly ratePerMin: number | null }
  | { readonly is: 'view'; readonly view: CameraView }
  | { readonly is: 'depth'; readonly reading: DepthReading }
  /** Unsheathed share of the frame, 0 to 1; null: could not be read. */
  | { readonly is: 'fraction'; readonly ratio: number | null }
  | { readonly is: 'hold'; readonly hold: 'A' | 'B' | 'C'; readonly answer: 'go on' | 'recapture' | 'wait' | 'act' | 'finish' | 'cannot say'; readonly who: string }
  /** The frame moved more than its band; `mm` positive, null: not read. */
  | { readonly is: 'moved'; readonly direction: 'up' | 'down' | 'unknown'; readonly mm: number | null }
  | { readonly is: 'recaptured'; readonly isWhole: boolean }
  | { readonly is: 'valve-out'; readonly inspected: boolean; readonly replaced: boolean }
  | { readonly is: 'kit'; readonly item: string; readonly isReady: boolean }
  | { readonly is: 'wire'; readonly did: 'moved' | 'exchanged'; readonly side: 'outer curve' | 'inner curve' | 'centre' | null }
  | { readonly is: 'tension'; readonly tension: Tension }
  | { readonly is: 'dilated'; readonly balloonMm: number | null; readonly when: 'before' | 'after' }
  | { readonly is: 'heparin'; readonly units: number }
  | { readonly is: 'act'; readonly seconds: number }
  | { readonly is: 'contrast'; readonly ml: number }
  /** Running totals as the machine shows them. */
  | { readonly is: 'radiation'; readonly airKermaMGy: number | null; readonly doseAreaGyCm2: number | null; readonly fluoroscopyMin: number | null }
  | { readonly is: 'pressure'; readonly systolicMmHg: number; readonly diastolicMmHg: number; readonly endDiastolicMmHg: number | null; readonly heartRatePerMin: number | null }
  | { readonly is: 'rescue'; readonly card: string; readonly did: 'opened' | 'ticked' | 'unticked' | 'closed'; readonly line: number | null }
  /** The cause board is closed by a person: one or more causes, or none that fits (empty). */
  | { readonly is: 'causes'; readonly closedAs: readonly CauseCode[]; readonly because: string; readonly who: string }
  /** Another clock (recorder, C-arm) against the server's: positive when it is ahead (job.md, D40). */
  | { readonly is: 'clock'; readonly name: 'recorder' | 'c-arm' | 'wall clock'; readonly aheadS: number }
  /** Which card the wall shows where the phase leaves it open; null: the phase's own again. */
  | { readonly is: 'show'; readonly card: WallCardName | null }
  /** A wall's bar was measured with a tape: that screen is then true to the millimetre. `wall`: the name it shows. */
  | { readonly is: 'screen'; readonly wall: string; readonly barMm: number }
  /**
   * The verdict as it was shown, put on the wall by a person: only after every present reader has stored a grade of their own.
   * Grades 0 to 4; null: that witness may not speak. `answerSha256`: the whole answer.
   */
  | {
    readonly is: 'verdict'; readonly answerSha256: string; readonly word: VerdictWord; readonly side: 'below' | 'above' | null;
    readonly witnesses: readonly { readonly kind: WitnessKind; readonly low: number | null; readonly high: number | null }[];
    readonly remedies: readonly { readonly code: RemedyCode; readonly state: RemedyState; readonly detail: string }[];
    readonly waitUntil: string | null; readonly next: string;
    /** The newest manoeuvre that it takes into account; one that is logged later, though it was earlier than this tap, makes it void. */
    readonly roundAt?: string | null | undefined;
    /** A rule of memory or common practice acts in it. */
    readonly isUnverified?: boolean | undefined;
  }
  | { readonly is: 'note'; readonly text: string };
/** Cards that can be asked for; which one is shown follows from plan and log (make-wall-board.ts). */
export type WallCardName = 'plan' | 'kit' | 'view' | 'valve' | 'depth' | 'time' | 'jump' | 'result' | 'verdict' | 'remedies' | 'totals' | 'handover' | 'screen';
export const WALL_CARDS: readonly WallCardName[] = ['plan', 'kit', 'view', 'valve', 'depth', 'time', 'jump', 'result', 'verdict', 'remedies', 'totals', 'handover', 'screen'];
export type RoomEntryKind = RoomEntry['is'];

/**
 * One tap as the page that took it keeps and sends it. Time comes from that page's monotonic clock; raw times are kept
 * and the correction stands beside them (job.md, E17).
 */
export interface RoomRecord {
  /** Made by the page; a record that arrives twice is one. */
  readonly entryId: string;
  /** The page: a new one at each load. */
  readonly clientId: string;
  /** Where the tap was made. */
  readonly place: 'desk' | 'remote' | 'wall';
  /** 1, 2, 3, ... of this page, without gaps: a hole is a loss. */
  readonly count: number;
  /** Of the page's monotonic clock, ms. */
  readonly monotonicMs: number;
  /** The page's wall clock, raw, ISO 8601 UTC. */
  readonly clientAt: string;
  /** Corrected to the server's clock, ISO 8601 UTC with ms. */
  readonly happenedAt: string;
  /** What was added to the page's own time, ms, and within what (95 %); null: never compared, `happenedAt` = `clientAt`. */
  readonly offset: { readonly addedMs: number; readonly withinMs: number } | null;
  /** `entryId` of the record that this one replaces; with `entry` null it takes it back. */
  readonly corrects: string | null;
  readonly entry: RoomEntry | null;
}
