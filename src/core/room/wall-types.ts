import type { CameraView } from '../projection/camera-view.ts';
import type { DepthReading } from '../projection/depth-types.ts';
import type { ViewRole } from '../projection/view-types.ts';
import type { CauseRow } from './cause-types.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { DepthAge, DepthWindow, PlacedDepth } from './judge-depth-place.ts';
import type { RecaptureAnswer } from './judge-recapture.ts';
import type { RemedyCode, RemedyState } from '../verdict/verdict-types.ts';
import type { RoomState } from './room-state.ts';
import type { CauseCode, RoomEntry, RoomPhase, WallCardName } from './room-types.ts';

/** Everything a wall is made of; nothing else may be on it (job.md, E15). Times in ms of the server's clock. */
export interface WallAsk {
  readonly frozenState: 'none' | 'reading' | 'ready' | 'mismatch';
  readonly frozen: FrozenDocument | null;
  /** SHA-256 of the bytes that the page holds, computed by the page. */
  readonly frozenSha256: string | null;
  readonly room: RoomState;
  /** The case was changed after the freeze: another plan, another entry, or its patient is in question. */
  readonly isBehind: boolean;
  /** Two identifiers read since the freeze do not agree with the case. */
  readonly isOfAnother: boolean;
  readonly nowMs: number;
  /** False: the server did not answer when it was last asked. */
  readonly isOnline: boolean;
  /** When this page last knew that it had everything; null: never. */
  readonly newsMs: number | null;
  readonly settings: WallSettings;
}
export interface WallSettings {
  /** The card a pedal asked for on this wall, and when: looked at for a while, never over what the phase says. */
  readonly glance: { readonly card: WallCardName; readonly atMs: number } | null;
  /** The name of this wall; the desk gives it with the measured length of its bar. */
  readonly wall: string;
  /** Of the clock on the wall against UTC, minutes. */
  readonly utcOffsetMin: number;
  /** The server no longer lets this wall in. */
  readonly isRefused: boolean;
  /** False: nobody has measured this screen, so its letters may be too small. */
  readonly isScreenMeasured: boolean;
  /** True: the machine may switch the screen off. */
  readonly mayScreenSleep: boolean;
  /** True: this page's clock jumped (sleep, or somebody set it) and has not been compared with the server's since. */
  readonly isClockUnsure: boolean;
}

/** The newest depth of the running attempt with its age; past its limit it is no answer any more (job.md, E16). */
export interface WallDepth extends PlacedDepth {
  readonly reading: DepthReading;
  readonly at: string;
  readonly age: DepthAge;
}
/** Depths of the frozen plan for the chosen size, mm below the basal plane; null where there is none. */
export interface WallWindow {
  readonly state: DepthWindow['state'];
  /** How many limits are not known and were accepted so at the huddle: the window may be narrower. */
  readonly unknownLimits: number;
  readonly startMm: number | null;
  readonly aimLowMm: number | null;
  readonly aimHighMm: number | null;
  readonly stopMm: number | null;
  /** Where no depth is left: the upper limit's most and the lower limit's least, which do not meet; null where one of them excludes everything. */
  readonly gap: { readonly mostMm: number; readonly leastMm: number } | null;
}
export type Hold = 'A' | 'B' | 'C';
export type HoldAnswer = Extract<RoomEntry, { is: 'hold' }> & { readonly at: string };
export type HoldState = { readonly hold: Hold; readonly answer: HoldAnswer | null } | null;

export interface WallKitItem {
  /** Slot of the huddle's list, or the room's own name for it. */
  readonly item: string;
  /** Size of a valve; null for everything else. */
  readonly size: string | null;
  /** What the huddle or, since then, the room says; null: nobody said. */
  readonly isReady: boolean | null;
  readonly place: string | null;
  /** On this day, the last one included; null: nobody entered a date. Only `true` is ready. */
  readonly isInDate: boolean | null;
}
/** What was used against its signed limit. `past`: beyond it (for the clotting time: below it). */
export interface WallTotal {
  readonly code: 'contrast' | 'air-kerma' | 'dose-area' | 'act' | 'heparin';
  /** null: nobody logged it. */
  readonly value: number | null;
  readonly limit: number | null;
  readonly isPast: boolean;
  /** The limit is of memory or common practice (status M). */
  readonly isUnverified: boolean;
  /** A clotting time that is older than the newest heparin. */
  readonly isOutdated: boolean;
}
/** One row of the jump board; the order of the rows never changes. */
export type WallCause = Pick<CauseRow, 'code' | 'weight'>;

/** Until when the frame is left to expand, by the signed rule; null: no rule, or a frame that does not wait (job.md, D46). */
export type WallWait = { readonly ms: number; readonly isUnverified: boolean } | null;

export type WallCardFacts =
  /** `mismatch`: the bytes are not those that the case froze; `other-patient`: they may be another patient's. Nothing of them may be shown. */
  | { readonly is: 'mismatch' | 'other-patient' | 'reading' | 'not-frozen' }
  | { readonly is: 'screen'; readonly wall: string }
  | { readonly is: 'rescue'; readonly title: string; readonly isSigned: boolean; readonly elapsedMs: number; readonly lines: readonly { readonly text: string; readonly isTicked: boolean }[]; readonly alsoOpen: number }
  | { readonly is: 'jump'; readonly moved: { readonly direction: 'up' | 'down' | 'unknown'; readonly mm: number | null; readonly at: string } | null; readonly ageMs: number | null; readonly rows: readonly WallCause[]; readonly closedAs: readonly CauseCode[] | null }
  | { readonly is: 'plan'; readonly device: string; readonly size: string; readonly identityAt: string; readonly frozenAt: string; readonly overrides: number; readonly acceptedDoubts: number }
  | { readonly is: 'kit'; readonly items: readonly WallKitItem[]; readonly pacing: WallStrip['pacing'] }
  | { readonly is: 'valve'; readonly device: string; readonly size: string; readonly spare: readonly WallKitItem[] }
  | WallViewFacts
  | { readonly is: 'depth'; readonly window: WallWindow; readonly depth: WallDepth | null }
  | { readonly is: 'time'; readonly sinceMs: number | null; readonly wait: WallWait; readonly depth: WallDepth | null }
  | { readonly is: 'result'; readonly answer: HoldAnswer | null; readonly sinceMs: number | null; readonly wait: WallWait; readonly pressure: RoomState['pressure']; readonly depth: WallDepth | null; readonly voidVerdict: RoomState['verdict'] }
  | WallVerdictFacts
  | WallRemedyFacts
  | { readonly is: 'totals'; readonly totals: readonly WallTotal[] }
  | { readonly is: 'handover'; readonly device: string; readonly size: string; readonly depth: WallDepth | null; readonly answer: HoldAnswer | null; readonly recaptures: number; readonly attempts: number; readonly surgeon: string | null; readonly decides: string | null; readonly pacing: WallStrip['pacing'] };

/** What stands behind a verdict on the wall. `verdict` null: none was put there, or it is void; then `was` is the void one. */
interface WallVerdictBase {
  readonly verdict: NonNullable<RoomState['verdict']> | null;
  readonly was: NonNullable<RoomState['verdict']> | null;
  readonly ageMs: number | null;
  readonly sinceReleaseMs: number | null;
  /** Of the wait that ran when the verdict was given; 0 or less: over. null: none ran. */
  readonly waitLeftMs: number | null;
}
export interface WallVerdictFacts extends WallVerdictBase {
  readonly is: 'verdict';
}
export interface WallRemedyFacts extends WallVerdictBase {
  readonly is: 'remedies';
  /** All six in their fixed order; one that the verdict does not have cannot be said. */
  readonly rows: readonly { readonly code: RemedyCode; readonly state: RemedyState; readonly detail: string; readonly leftMs: number | null }[];
}

/** The working view of the plan, and the one that the room says it stands in. */
export interface WallViewFacts {
  readonly is: 'view';
  readonly role: ViewRole;
  readonly view: CameraView | null;
  readonly withinDeg: number | null;
  readonly isInReach: boolean;
  readonly instead: CameraView | null;
  /** The patient did not lie on the back in the scan: no angle is given. */
  readonly isWithheld: boolean;
  readonly seen: { readonly view: CameraView; readonly awayDeg: number; readonly isSame: boolean } | null;
  readonly second: CameraView | null;
  readonly startMm: number;
  readonly wire: RoomState['wire'];
}

export interface WallStrip {
  readonly phase: RoomPhase | null;
  readonly inPhaseMs: number | null;
  readonly window: WallWindow;
  readonly depth: WallDepth | null;
  /** null: the log does not say. */
  readonly pacing: { readonly isOn: boolean; readonly ratePerMin: number | null; readonly sinceMs: number } | null;
  readonly recapture: RecaptureAnswer;
  /** Before the frame is at the ring there is no depth and nothing to take back. */
  readonly isBeforePosition: boolean;
  readonly size: string;
  readonly sinceReleaseMs: number | null;
}
export type WallWarning =
  | { readonly is: 'plan-behind' }
  | { readonly is: 'no-contact'; readonly forMs: number | null }
  | { readonly is: 'clock-unsure' }
  | { readonly is: 'refused' }
  | { readonly is: 'lost-entries'; readonly count: number }
  | { readonly is: 'screen-not-measured'; readonly wall: string }
  | { readonly is: 'may-sleep' };

/** What stands on the wall now. */
export interface WallBoard {
  readonly name: WallCardName | 'mismatch' | 'other-patient' | 'reading' | 'not-frozen' | 'rescue';
  readonly card: WallCardFacts;
  /** Why this card: nothing can take away what `must`; elsewhere the desk, the remote or a pedal may ask for another. */
  readonly because: 'must' | 'phase' | 'asked' | 'glance';
  readonly hold: HoldState;
  /** Absent where the frozen plan may not be shown. */
  readonly strip: WallStrip | null;
  /** The most urgent first. */
  readonly warnings: readonly WallWarning[];
  readonly label: string | null;
  readonly training: boolean;
  /** Rules of memory or common practice (status M) act here. */
  readonly hasUnverified: boolean;
  /** First eight signs of the frozen document's SHA-256, in two groups that are read aloud. */
  readonly code: readonly [string, string] | null;
  readonly nowMs: number;
  readonly utcOffsetMin: number;
  /** Age of the newest entry of the log; null: none. */
  readonly newestAgeMs: number | null;
}
