import type { CaseState } from '../case/fold-case.ts';
import type { PressureAnswer } from '../haemodynamics/pressure-types.ts';
import type { FrozenDocument } from '../room/frozen-types.ts';
import { judgeDepthPlace, readDepthWindow } from '../room/judge-depth-place.ts';
import type { RoomState } from '../room/room-state.ts';
import { listBoxes } from '../room/second-valve.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { DiastoleEntries } from './explain-low-diastole.ts';
import type { VerdictClock } from './judge-witness.ts';
import type { RoomSigns } from './remedy-board.ts';
import type { ResultFieldId } from './result-fields.ts';

/** What the echo says beside its grade; null: nobody said. */
export interface EchoSigns {
  readonly place: 'none seen' | 'beside the frame' | 'through the leaflets' | 'both' | null;
  readonly hasEffusion: boolean | null;
}
type Case = Pick<CaseState, 'result' | 'huddle'>;

/**
 * What persons in the room see and know, from what was entered for the result, the room's log and the huddle. An entry of the
 * result wins over the echo, the echo over nothing.
 * Fails    never; what nobody said is null
 */
export function readRoomSigns(state: Case, room: RoomState, frozen: FrozenDocument | null, clock: VerdictClock, echo: EchoSigns | null): RoomSigns {
  const read = readEntries(state);
  const echoPlace = echo?.place === 'none seen' ? null : (echo?.place ?? null);
  return {
    leakPlace: (read.text('signs.leakPlace') as RoomSigns['leakPlace']) ?? echoPlace,
    framePlace: frozen === null ? null : readFramePlace(room, frozen, clock),
    frameOpening: read.text('signs.frameOpening') as RoomSigns['frameOpening'],
    isFrameMoving: read.yesNo('signs.isFrameMoving'),
    hasEffusion: read.yesNo('signs.hasEffusion') ?? echo?.hasEffusion ?? null,
    isCoronaryFlowNormal: read.yesNo('signs.isCoronaryFlowNormal'),
    isCirculationStable: read.yesNo('circulation.isStable'),
    isSnareReady: read.yesNo('signs.isSnareReady') ?? readBoxReady(frozen, room, clock, 'snare'),
    isClosureReady: read.yesNo('signs.isClosureReady'),
    isSurgeryAgreed: readSurgery(state, frozen),
  };
}

/** What else may lower the diastolic pressure, as far as persons said it. */
export function readDiastoleEntries(state: Case, before: PressureAnswer | null, echo: EchoSigns | null): DiastoleEntries {
  const { yesNo, number } = readEntries(state);
  return {
    isBleeding: yesNo('circulation.isBleeding'), hasEffusion: yesNo('signs.hasEffusion') ?? echo?.hasEffusion ?? null, hasVasodilator: yesNo('circulation.hasVasodilator'),
    pulseBeforeMmHg: number('circulation.pulseBeforeMmHg') ?? before?.aortic.pulse.value ?? null,
  };
}

/** Diameters that lie in the room: the box of the huddle that is ready and in date, and balloons that were used already. */
export function listBalloonsAtHand(room: RoomState, frozen: FrozenDocument | null, clock: VerdictClock): readonly number[] {
  const boxes = frozen === null ? [] : listBoxes(frozen, room, clock.nowAt.slice(0, 10));
  const mm = [...boxes.filter((b) => b.slot === 'balloon' && b.state === 'offered').map((b) => b.mm), ...room.dilated.map((d) => d.balloonMm)];
  return [...new Set(mm.filter((each) => each !== null))].sort((a, b) => a - b);
}

const readEntries = ({ result }: Case) => {
  const value = (id: ResultFieldId): string | number | boolean | null => result.entries[id]?.value ?? null;
  return {
    yesNo: (id: ResultFieldId): boolean | null => (typeof value(id) === 'boolean' ? (value(id) as boolean) : null),
    number: (id: ResultFieldId): number | null => (typeof value(id) === 'number' ? (value(id) as number) : null),
    text: (id: ResultFieldId): string | null => (typeof value(id) === 'string' ? (value(id) as string) : null),
  };
};

/** A depth of the released frame does not grow old, but it must have been read since the last manoeuvre. */
function readFramePlace(room: RoomState, frozen: FrozenDocument, { releasedAt, lastManoeuvreAt }: VerdictClock): RoomSigns['framePlace'] {
  const { depth } = room;
  if (depth === null || depth.before !== undefined || releasedAt === null) return null;
  const sinceMs = Math.max(readInstantMs(releasedAt), lastManoeuvreAt === null ? -Infinity : readInstantMs(lastManoeuvreAt));
  if (!(readInstantMs(depth.at) > sinceMs)) return null;
  const { place } = judgeDepthPlace(depth.reading, readDepthWindow(frozen));
  return place === 'inside' || place === 'deeper' || place === 'higher' ? place : null;
}

function readBoxReady(frozen: FrozenDocument | null, room: RoomState, clock: VerdictClock, slot: string): boolean | null {
  const box = frozen === null ? null : listBoxes(frozen, room, clock.nowAt.slice(0, 10)).find((b) => b.slot === slot);
  if (!box || (box.isReady === null && box.room === null)) return null;
  return box.state === 'offered';
}

function readSurgery(state: Case, frozen: FrozenDocument | null): boolean | null {
  const said = frozen?.huddle['rescue.surgery'] ?? state.huddle['rescue.surgery']?.value;
  return said === undefined ? null : said === 'agreed';
}
