import type { Plan } from '../case/plan-types.ts';
import type { Device, DeviceSize } from '../device/device-types.ts';
import type { RoomState } from '../room/room-state.ts';
import { RHYTHM_WATCH_EN } from '../text/rhythm-watch-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp } from '../units/fact.ts';
import type { RhythmContext } from '../rhythm/rhythm-types.ts';

export interface ContextSources {
  /** Frozen plan, else the newest one. */
  readonly plan: Pick<Plan, 'root' | 'patient'> | null;
  readonly chosen: { readonly device: Pick<Device, 'kind'>; readonly size: Pick<DeviceSize, 'frame'> } | null;
  readonly room: Pick<RoomState, 'depth' | 'dilated'> | null;
  /** `result.entered` events by field. */
  readonly entries: Readonly<Record<string, { readonly value: string | number | boolean }>>;
}

/**
 * Facts beside the ECGs, where plan, room or a person hold them. What nobody logged stays not known: a room without a tap on a
 * balloon does not prove that there was none.
 * Units     mm, mm3, 1
 * Equation  prosthesis over outflow = free inflow diameter of the frame / (perimeter of the outflow tract / pi)
 */
export function readRhythmContext({ plan, chosen, room, entries }: ContextSources, stamp: FactStamp): RhythmContext {
  const yesNo = (field: string): 'yes' | 'no' | null => (entries[field]?.value === true ? 'yes' : entries[field]?.value === false ? 'no' : null);
  const root = plan?.root ?? null;
  const septum = plan?.patient?.membranousSeptumMm;
  const known = (fact: Fact | undefined): Fact | null => (fact && fact.value !== null ? fact : null);
  return {
    deviceKind: chosen?.device.kind ?? null,
    dilated: room && room.dilated.length > 0 ? 'yes' : null,
    lowImplant: yesNo('rhythm.isLowImplant'), heavyCalcium: yesNo('rhythm.hasHeavyCalcium'), shortSeptum: yesNo('rhythm.hasShortSeptum'),
    prosthesisOverOutflow: chosen && root ? divideByOutflow(chosen.size.frame.inflowMm, root.outflowTract.perimeterMm, stamp) : null,
    implantDepthMm: readDepth(room, stamp),
    septumLengthMm: septum && plan?.patient ? makeFact(septum.value, septum.value - septum.halfWidth95, septum.value + septum.halfWidth95, 'mm', 'patient.septum/1', [], { by: plan.patient.by, at: stamp.at }, [], 'entered') : known(root?.membranousSeptum.lengthMm),
    subCuspCalciumMm3: known(root?.calcium?.outflowMm3),
  };
}

/** The newest depth of the room; one from before the full release does not say where the frame came to stand. */
function readDepth(room: Pick<RoomState, 'depth'> | null, stamp: FactStamp): Fact | null {
  if (!room?.depth) return null;
  const { reading, before } = room.depth;
  const about = { by: stamp.by, at: room.depth.at };
  if (before) return refuseFact('mm', 'room.depth/1', about, { code: 'depth-before-release', text: RHYTHM_WATCH_EN.depthEarly, next: RHYTHM_WATCH_EN.depthEarlyNext });
  return makeFact(reading.depthMm, reading.lowMm, reading.highMm, 'mm', 'room.depth/1', [], about, [], reading.by === 'entered' ? 'entered' : 'computed');
}

function divideByOutflow(inflowMm: number, perimeter: Fact, stamp: FactStamp): Fact | null {
  if (perimeter.value === null || perimeter.low === null || perimeter.high === null || !(perimeter.low > 0)) return null;
  const over = (perimeterMm: number): number => (inflowMm * Math.PI) / perimeterMm;
  return makeFact(over(perimeter.value), over(perimeter.high), over(perimeter.low), '1', 'rhythm.prosthesis-over-outflow/1', ['root.outflowTract.perimeterMm'], stamp, perimeter.status === 'doubtful' ? perimeter.reasons : []);
}
