import type { CameraView } from '../projection/camera-view.ts';
import type { DepthReading } from '../projection/depth-types.ts';
import type { Tension } from '../release/release-types.ts';
import type { CauseCode, RoomEntry, RoomPhase, RoomRecord } from './room-types.ts';

/** A record as the log holds it. `standing`: only `current` ones count. */
export interface LoggedRecord extends RoomRecord {
  /** Who; null: still waiting on the page that took it. */
  readonly by: string | null;
  /** Place in the case's log; null: not yet taken by the server. */
  readonly seq: number | null;
  readonly standing: 'current' | 'superseded' | 'taken back';
}
/** One attempt to place the frame: from the first depth or release step to recapture or full release. */
export interface Attempt {
  readonly number: number;
  readonly beganAt: string;
  /** Newest depth read before the frame opened; null: none was read. */
  readonly start: { readonly reading: DepthReading; readonly at: string } | null;
  /** Newest depth of the attempt; what was read before a recapture is not read any more. */
  readonly last: { readonly reading: DepthReading; readonly at: string } | null;
  readonly ratio: { readonly ratio: number | null; readonly at: string } | null;
  readonly moved: { readonly direction: 'up' | 'down' | 'unknown'; readonly mm: number | null; readonly at: string } | null;
  /** Pacing while the frame opened: null when the log does not say. */
  readonly wasPaced: boolean | null;
  readonly tension: Tension | null;
  readonly endedBy: 'recaptured' | 'released' | null;
  readonly endedAt: string | null;
}

/** What may change a leak, as the log says it; `next valve`: after a full release the team turned to another valve. */
export type Manoeuvre = 'dilated' | 'recaptured' | 'valve-out' | 'moved' | 'released' | 'next valve';

/**
 * What the room is now: a fold over its records (fold-room.ts), in the order of `happenedAt`. The same fold runs on the
 * server, on the wall, on the remote and in a page that has lost its server.
 */
export interface RoomState {
  /** All records in time order, superseded ones too. */
  readonly records: readonly LoggedRecord[];
  readonly phase: { readonly phase: RoomPhase; readonly at: string } | null;
  readonly pacing: { readonly isOn: boolean; readonly ratePerMin: number | null; readonly at: string } | null;
  readonly view: { readonly view: CameraView; readonly at: string } | null;
  /** Newest depth of the running attempt; null after a recapture. `before`: it was read before the frame was said to have moved, or before the full release. */
  readonly depth: { readonly reading: DepthReading; readonly at: string; readonly before?: 'moved' | 'released' } | null;
  readonly attempts: readonly Attempt[];
  readonly recaptures: number;
  readonly valveOut: { readonly inspected: boolean; readonly replaced: boolean; readonly at: string } | null;
  readonly releasedAt: string | null;
  /** When the team last turned to another valve after a full release; null: never. */
  readonly nextValveAt: string | null;
  readonly holds: Readonly<Partial<Record<'A' | 'B' | 'C', Extract<RoomEntry, { is: 'hold' }> & { readonly at: string }>>>;
  readonly kit: Readonly<Record<string, { readonly isReady: boolean; readonly at: string }>>;
  readonly wire: { readonly did: 'moved' | 'exchanged'; readonly side: 'outer curve' | 'inner curve' | 'centre' | null; readonly at: string } | null;
  readonly tension: { readonly tension: Tension; readonly at: string } | null;
  readonly dilated: readonly { readonly balloonMm: number | null; readonly when: 'before' | 'after'; readonly at: string }[];
  readonly heparin: readonly { readonly units: number; readonly at: string }[];
  readonly act: readonly { readonly seconds: number; readonly at: string }[];
  readonly contrastMl: number;
  readonly radiation: { readonly airKermaMGy: number | null; readonly doseAreaGyCm2: number | null; readonly fluoroscopyMin: number | null; readonly at: string } | null;
  readonly pressure: (Omit<Extract<RoomEntry, { is: 'pressure' }>, 'is'> & { readonly at: string }) | null;
  /** Rescue cards that are open, the newest last. */
  readonly rescue: readonly { readonly card: string; readonly openedAt: string; readonly ticked: readonly { readonly line: number; readonly at: string }[] }[];
  readonly causes: { readonly closedAs: readonly CauseCode[]; readonly because: string; readonly who: string; readonly at: string } | null;
  /**
   * The newest verdict that a person put on the wall. `voidBy`: what was logged since that may have changed the leak; a void
   * one says nothing any more.
   */
  readonly verdict: (Omit<Extract<RoomEntry, { is: 'verdict' }>, 'is'> & { readonly at: string; readonly voidBy: { readonly what: Manoeuvre; readonly at: string } | null }) | null;
  readonly clocks: readonly { readonly name: 'recorder' | 'c-arm' | 'wall clock'; readonly aheadS: number; readonly at: string }[];
  /** Counts of a page that never arrived: something was lost or is still on its way. */
  readonly holes: readonly { readonly clientId: string; readonly missing: readonly number[] }[];
  readonly lastAt: string | null;
}
