import { cross, dot, type Vec3 } from '../math/vec3.ts';
import type { SliceGroup, SliceGroupRole, SliceGrouping, SliceRecord, SliceSeries } from './group-slices-types.ts';

/** Two slices nearer than this along the normal lie at the same place: positions are written to 0.01 mm or better. */
export const SAME_PLACE_MM = 0.02;
/** Direction cosines are written with 6 digits or fewer; 0.002 is 0.1 degree. */
const SAME_DIRECTION = 0.002;
const SAME_SPACING_MM = 1e-3;
const SLICES_PER_FRAME = 3;
const CT_SOP_CLASSES = new Set([
  '1.2.840.10008.5.1.4.1.1.2', // CT Image
  '1.2.840.10008.5.1.4.1.1.2.1', // Enhanced CT Image
  '1.2.840.10008.5.1.4.1.1.2.2', // Legacy Converted Enhanced CT Image
]);

/**
 * Sorts slices into series, and each series into groups that can lie in one grid.
 *
 * A series is split by frame of reference, matrix, pixel spacing, orientation, localiser or not, and phase. Where
 * two slices still lie at one place, the property of the list below that tells them apart best splits further
 * (trigger time, temporal position, acquisition, kernel, image type, acquisition time); what then remains is a
 * duplicate, and the copy that comes first by instance number and UID stays.
 * The answer does not depend on the order of the records.
 *
 * Frame     LPS; slices are ordered along row x column direction
 * Fails     never: what cannot be placed is a group of role 'unplaced'
 * Source    docs/methods/scan-fitness.md
 */
export function groupSlices(records: readonly SliceRecord[]): SliceGrouping {
  const patients = new Set<string>();
  const bySeries = new Map<string, number[]>();
  for (const [i, record] of records.entries()) {
    if (record.patientKey !== null) patients.add(record.patientKey);
    addTo(bySeries, `${record.studyUid ?? ''}|${record.seriesUid ?? ''}|${record.modality ?? ''}`, i);
  }
  const keys = [...bySeries.keys()].sort(compareText);
  return { series: keys.map((key) => makeSeries(records, bySeries.get(key)!)), patients: patients.size };
}

function makeSeries(records: readonly SliceRecord[], members: readonly number[]): SliceSeries {
  const ordered = [...members].sort((a, b) => compareRecords(records[a]!, records[b]!));
  const first = records[ordered[0]!]!;
  const frames = new Set(ordered.map((i) => records[i]!.frameOfReferenceUid ?? ''));
  // De-identifiers sometimes give every slice a frame of reference of its own; that tells nothing apart.
  const isFrameIgnored = frames.size > 1 && ordered.length / frames.size < SLICES_PER_FRAME;
  const parts = splitByLayout(records, ordered, isFrameIgnored);
  const groups: SliceGroup[] = [];
  for (const part of parts) {
    const role = findRole(records[part[0]!]!);
    if (role !== 'volume') groups.push(makeGroup(records, part, role, parts.length > 1 ? ['layout'] : []));
    else for (const piece of splitByTime(records, part)) groups.push(makeGroup(records, piece.members, role, [
      ...(parts.length > 1 ? ['layout'] : []), ...piece.splitBy,
    ]));
  }
  return {
    studyUid: first.studyUid, seriesUid: first.seriesUid, seriesNumber: first.seriesNumber,
    modality: first.modality, description: first.seriesDescription, framesOfReference: frames.size, isFrameIgnored, groups,
  };
}

function makeGroup(
  records: readonly SliceRecord[], part: readonly number[], role: SliceGroupRole, splitBy: readonly string[],
): SliceGroup {
  const phasePercent = records[part[0]!]!.phasePercent;
  if (role !== 'volume') return { role, members: part, duplicates: [], splitBy, phasePercent };
  const sorted = sortAlongNormal(records, part);
  const members: number[] = [];
  const duplicates: number[] = [];
  let lastMm = -Infinity;
  for (const { index, alongMm } of sorted) {
    if (alongMm - lastMm <= SAME_PLACE_MM) duplicates.push(index);
    else {
      members.push(index);
      lastMm = alongMm;
    }
  }
  return { role, members, duplicates, splitBy, phasePercent };
}

/** Distance of a slice from the origin along the slice normal. The record must be placed. */
export function measureAlongNormalMm(record: SliceRecord, normal: Vec3): number {
  return dot(record.positionLps!, normal);
}

/** Unit normal of a placed slice: row direction x column direction. */
export function computeSliceNormal(record: SliceRecord): [number, number, number] {
  return cross(record.rowDirLps!, record.columnDirLps!);
}

function sortAlongNormal(records: readonly SliceRecord[], part: readonly number[]): { index: number; alongMm: number }[] {
  const normal = computeSliceNormal(records[part[0]!]!);
  return part
    .map((index) => ({ index, alongMm: measureAlongNormalMm(records[index]!, normal) }))
    .sort((a, b) => a.alongMm - b.alongMm || compareRecords(records[a.index]!, records[b.index]!));
}

function findRole(record: SliceRecord): SliceGroupRole {
  if (record.modality !== null && record.modality !== 'CT') return 'other-modality';
  const words = record.imageType.map((word) => word.toUpperCase());
  if (words.includes('LOCALIZER') || words.includes('SCOUT')) return 'localiser';
  if (record.sopClassUid && !CT_SOP_CLASSES.has(record.sopClassUid)) return 'capture';
  if (!record.positionLps || !record.rowDirLps || !record.columnDirLps || !record.pixelSpacingMm) return 'unplaced';
  return 'volume';
}

function splitByLayout(records: readonly SliceRecord[], ordered: readonly number[], isFrameIgnored: boolean): number[][] {
  const parts: number[][] = [];
  for (const i of ordered) {
    const home = parts.find((part) => hasSameLayout(records[part[0]!]!, records[i]!, isFrameIgnored));
    if (home) home.push(i);
    else parts.push([i]);
  }
  return parts;
}

function hasSameLayout(a: SliceRecord, b: SliceRecord, isFrameIgnored: boolean): boolean {
  return (
    findRole(a) === findRole(b) && a.rows === b.rows && a.columns === b.columns &&
    (isFrameIgnored || a.frameOfReferenceUid === b.frameOfReferenceUid) &&
    isNear(a.pixelSpacingMm, b.pixelSpacingMm, SAME_SPACING_MM) &&
    isNear(a.rowDirLps, b.rowDirLps, SAME_DIRECTION) && isNear(a.columnDirLps, b.columnDirLps, SAME_DIRECTION)
  );
}

function isNear(a: readonly number[] | null, b: readonly number[] | null, limit: number): boolean {
  if (a === null || b === null) return a === b;
  return a.every((value, i) => Math.abs(value - b[i]!) <= limit);
}

interface Piece {
  readonly members: readonly number[];
  readonly splitBy: readonly string[];
}

/** In this order: what most often tells two volumes of one series apart comes first. */
const TELLERS: readonly { readonly name: string; read(record: SliceRecord): string }[] = [
  { name: 'trigger time', read: (r) => String(r.triggerTimeMs) },
  { name: 'temporal position', read: (r) => String(r.temporalPositionIndex) },
  { name: 'acquisition', read: (r) => String(r.acquisitionNumber) },
  { name: 'kernel', read: (r) => String(r.kernel) },
  { name: 'image type', read: (r) => r.imageType.join('\\') },
  { name: 'acquisition time', read: (r) => String(r.acquisitionTime) },
];

function splitByTime(records: readonly SliceRecord[], part: readonly number[]): readonly Piece[] {
  const phases = splitBy(records, part, (r) => (r.phasePercent === null ? '' : String(Math.round(r.phasePercent))));
  const name = phases.length > 1 ? ['phase'] : [];
  return phases.flatMap((phase) => splitDuplicates(records, { members: phase, splitBy: name }, []));
}

/**
 * Splits by the property that leaves the fewest places held twice, then the fewest parts: step-and-shoot slabs
 * differ in trigger time too, and must not be torn apart where another property tells the volumes apart.
 */
function splitDuplicates(records: readonly SliceRecord[], piece: Piece, used: readonly string[]): readonly Piece[] {
  const before = countDuplicates(records, piece.members);
  if (before === 0) return [piece];
  let best: { name: string; parts: number[][]; after: number } | null = null;
  for (const teller of TELLERS) {
    if (used.includes(teller.name)) continue;
    const parts = splitBy(records, piece.members, teller.read);
    if (parts.length < 2 || piece.members.length / parts.length < 2) continue;
    const after = parts.reduce((sum, part) => sum + countDuplicates(records, part), 0);
    if (after >= before) continue;
    if (!best || after < best.after || (after === best.after && parts.length < best.parts.length)) {
      best = { name: teller.name, parts, after };
    }
  }
  if (!best) return [piece];
  const { name, parts } = best;
  return parts.flatMap((members) =>
    splitDuplicates(records, { members, splitBy: [...piece.splitBy, name] }, [...used, name]),
  );
}

function countDuplicates(records: readonly SliceRecord[], part: readonly number[]): number {
  const sorted = sortAlongNormal(records, part);
  let count = 0;
  for (let i = 1; i < sorted.length; i++) {
    if (sorted[i]!.alongMm - sorted[i - 1]!.alongMm <= SAME_PLACE_MM) count++;
  }
  return count;
}

function splitBy(records: readonly SliceRecord[], part: readonly number[], read: (r: SliceRecord) => string): number[][] {
  const parts = new Map<string, number[]>();
  for (const i of part) addTo(parts, read(records[i]!), i);
  return [...parts.keys()].sort(compareNumbersOrText).map((key) => parts.get(key)!);
}

function addTo(map: Map<string, number[]>, key: string, value: number): void {
  const list = map.get(key);
  if (list) list.push(value);
  else map.set(key, [value]);
}

/** A total order of records by content alone. */
function compareRecords(a: SliceRecord, b: SliceRecord): number {
  return (
    (a.instanceNumber ?? 0) - (b.instanceNumber ?? 0) ||
    compareText(a.sopInstanceUid ?? '', b.sopInstanceUid ?? '') ||
    a.frameIndex - b.frameIndex ||
    comparePositions(a.positionLps, b.positionLps)
  );
}

function comparePositions(a: readonly number[] | null, b: readonly number[] | null): number {
  if (a === null || b === null) return (a === null ? 0 : 1) - (b === null ? 0 : 1);
  return a[2]! - b[2]! || a[1]! - b[1]! || a[0]! - b[0]!;
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function compareNumbersOrText(a: string, b: string): number {
  const difference = Number(a) - Number(b);
  return Number.isFinite(difference) && difference !== 0 ? difference : compareText(a, b);
}
