import { fail, succeed, type Result } from '../result.ts';
import type { Cusp, RootSurvey } from '../root/root-types.ts';
import { CUSPS } from '../root/root-types.ts';
import { makeSurveyFrame } from '../root/make-survey-frame.ts';
import { cylinderFromLps } from '../root/root-frame.ts';
import type { Fact } from '../units/fact.ts';
import { OPENING, type WallBump } from './contact-surface.ts';
import { lowerByDeposits, readDeposits, type DepositShape } from './survey-deposits.ts';
import type { CuspAzimuths } from './inflated-frame.ts';
import type { GeometrySpread } from './release-types.ts';
import { DEFAULT_SPREAD } from './sample-inputs.ts';
import { fillWallMap, NODE_MM, readNodes, smoothWallMap, type WallNodes } from './smooth-wall-map.ts';
import { ZONE } from './wall-grid.ts';
import { computeZones, DEFAULT_BLENDS, LEAFLET_HEIGHT_MM, PART, slope, step, type WallParts } from './wall-stiffness.ts';

export type SurfaceFailureCode = 'release-wall-incomplete' | 'release-ring-refused';

/** The measured root as the release model sees it. */
export interface MeasuredSurface {
  readonly parts: WallParts;
  readonly spread: GeometrySpread;
  readonly cusps: CuspAzimuths;
  readonly septalRad: number;
  /** Heights between which the wall was measured all round (gaps up to 30 degrees bridged). */
  readonly measuredMm: readonly [low: number, high: number];
  readonly largestGapDeg: number;
  readonly annulusMm: number;
  readonly bumps: readonly WallBump[];
  readonly deposits: readonly DepositShape[];
  readonly leafletMm: number;
}

/** A pushed-aside leaflet covers this share of its length above the plane: 9 mm for one of 14 mm; assumption. */
const LEAFLET_COVER = LEAFLET_HEIGHT_MM / 14;

/**
 * Contact surface of a measured root (mechanics 2, "Wall"): the outflow tract and annulus as mapped, the pushed-aside
 * leaflets over their height, then the mapped sinus and aorta; calcium lowers the radius and stiffens.
 *
 * Units     mm, N/mm3; azimuth 0 at the R nadir
 * Frame     cylinder of the basal plane
 * Equation  local quadratic fit along s (Gaussian weights, 3 mm full width), cubic Hermite between nodes 1 mm apart: C1
 * Fails     release-wall-incomplete, release-ring-refused
 * Source    docs/methods/release.md, "From the survey"
 */
export function makeMeasuredSurface(root: RootSurvey): Result<MeasuredSurface, SurfaceFailureCode> {
  const ring = root.basalRing.perimeterDiameterMm;
  if (ring.value === null) {
    return fail('release-ring-refused', 'The basal ring was not measured, so nothing can be said about a frame in it.',
      ring.reasons[0]?.next ?? 'Mark the three nadirs by hand and measure again.', {});
  }
  const filled = fillWallMap(root.map);
  if (!filled) {
    return fail('release-wall-incomplete', 'The wall was not found all round between 5 mm below and 8 mm above the basal plane.',
      'Use a scan that covers the outflow tract and the whole root, or mark the wall by hand.', {});
  }
  const nodes = smoothWallMap(filled);
  const septalRad = 0; // under the R nadir: the septum is the front and left wall of the outflow tract, below R
  const cusps = readCusps(root);
  const leafletMm = readLeafletHeight(root);
  const narrowing = DEFAULT_SPREAD.narrowingMid;
  const place: [number, number] = [0, 0];
  const { bumps, deposits } = readDeposits(root, ring.value / 2, (sMm, azimuthRad) => {
    // Room between the pushed-aside leaflet and the wall behind it.
    const j = findSector(azimuthRad);
    readNodes(nodes, sMm, j, place);
    const wallMm = place[0];
    readNodes(nodes, 0, j, place);
    return Math.max(0, wallMm - place[0] * (1 - narrowing * step(sMm, 0, leafletMm)));
  });
  return succeed({
    parts: makeParts(nodes, { septalRad, leafletMm, narrowing, bumps }),
    spread: readSpread(root),
    cusps,
    septalRad,
    measuredMm: filled.measuredMm,
    largestGapDeg: filled.largestGapDeg,
    annulusMm: ring.value / 2,
    bumps,
    deposits,
    leafletMm,
  });
}

interface PartSettings {
  readonly septalRad: number;
  readonly leafletMm: number;
  readonly narrowing: number;
  readonly bumps: readonly WallBump[];
}

function makeParts(nodes: WallNodes, settings: PartSettings): WallParts {
  const stretch = settings.leafletMm / LEAFLET_HEIGHT_MM;
  const openFrom = OPENING.fromMm * stretch;
  const openTo = OPENING.toMm * stretch;
  const wall: [number, number] = [0, 0];
  const ring: [number, number] = [0, 0];
  return (s, azimuthRad, out) => {
    const j = findSector(azimuthRad);
    readNodes(nodes, s, j, wall);
    if (s > 0) {
      readNodes(nodes, 0, j, ring);
      const tip = step(s, 0, settings.leafletMm);
      const dTip = slope(s, 0, settings.leafletMm);
      // The ring's own slope is led out to zero over 1 mm, so that the radius stays C1 at the plane.
      const lead = ring[1] * NODE_MM * leadOut(s / NODE_MM);
      const dLead = ring[1] * leadOutSlope(s / NODE_MM);
      const base = ring[0] + lead;
      const narrowed = 1 - settings.narrowing * tip;
      const leaf = base * narrowed;
      const dLeaf = dLead * narrowed - base * settings.narrowing * dTip;
      const open = step(s, openFrom, openTo);
      const dOpen = slope(s, openFrom, openTo);
      out[PART.radius] = leaf + (wall[0] - leaf) * open;
      out[PART.radius + 1] = dLeaf * (1 - open) + wall[1] * open + (wall[0] - leaf) * dOpen;
      setShift(out, PART.shiftAnnulus, narrowed * (1 - open), -settings.narrowing * dTip * (1 - open) - narrowed * dOpen);
      setShift(out, PART.shiftLeaflets, -base * tip * (1 - open), -(dLead * tip + base * dTip) * (1 - open) + base * tip * dOpen);
      setShift(out, PART.shiftOutflow5, 0, 0);
      setShift(out, PART.shiftOutflow10, 0, 0);
    } else {
      out[PART.radius] = wall[0];
      out[PART.radius + 1] = wall[1];
      const deep = step(s, -10, -5);
      const dDeep = slope(s, -10, -5);
      const mid = step(s, -5, 0);
      const dMid = slope(s, -5, 0);
      setShift(out, PART.shiftOutflow10, 1 - deep, -dDeep);
      setShift(out, PART.shiftOutflow5, deep * (1 - mid), dDeep * (1 - mid) - deep * dMid);
      setShift(out, PART.shiftAnnulus, mid, dMid);
      setShift(out, PART.shiftLeaflets, 0, 0);
    }
    computeZones(s, azimuthRad, settings.septalRad, settings.leafletMm, DEFAULT_BLENDS, out);
    lowerByDeposits(out, settings.bumps, s, azimuthRad);
  };
}

function findSector(azimuthRad: number): number {
  const n = ZONE.sectors;
  return ((Math.round((azimuthRad / (2 * Math.PI)) * n) % n) + n) % n;
}

function setShift(out: Float64Array, at: number, value: number, slopeValue: number): void {
  out[at] = value;
  out[at + 1] = slopeValue;
}
/** Starts with slope 1 and ends flat at 1: t - t^2 + t^3 / 3. */
const leadOut = (t: number): number => (t >= 1 ? 1 / 3 : t - t * t + (t * t * t) / 3);
const leadOutSlope = (t: number): number => (t >= 1 ? 0 : (1 - t) ** 2);

function readCusps(root: RootSurvey): CuspAzimuths {
  const frame = makeSurveyFrame(root);
  const at = (cusp: Cusp): number => cylinderFromLps(frame, root.basalPlane.nadirsLps[cusp]).azimuthRad;
  return { R: at('R'), L: at('L'), N: at('N') };
}

function readLeafletHeight(root: RootSurvey): number {
  const lengths = CUSPS.map((c) => root.leaflets[c]?.lengthMm.value).filter((v): v is number => typeof v === 'number');
  if (lengths.length === 0) return LEAFLET_HEIGHT_MM;
  const mean = lengths.reduce((s, v) => s + v, 0) / lengths.length;
  return Math.max(6, Math.min(14, mean * LEAFLET_COVER));
}

/** Standard deviations of the radii from the survey's own 95 % intervals; never below the published agreement of readers. */
export function readSpread(root: RootSurvey): GeometrySpread {
  const sdOf = (fact: Fact | undefined, isArea: boolean): number => {
    if (!fact || fact.value === null || fact.low === null || fact.high === null) return NaN;
    const radius = (v: number): number => (isArea ? Math.sqrt(Math.max(0, v) / Math.PI) : v / (2 * Math.PI));
    return (radius(fact.high) - radius(fact.low)) / (2 * 1.96);
  };
  const levelAt = (mm: number): Fact | undefined =>
    root.levels.reduce<(typeof root.levels)[number] | undefined>(
      (best, l) => (!best || Math.abs(l.heightMm - mm) < Math.abs(best.heightMm - mm) ? l : best), undefined)?.areaMm2;
  const atLeast = (sd: number, least: number): number => (sd > least ? sd : least);
  return {
    annulusMm: atLeast(sdOf(root.basalRing.areaMm2, true), DEFAULT_SPREAD.annulusMm),
    outflow5Mm: atLeast(sdOf(levelAt(-5), true), DEFAULT_SPREAD.outflow5Mm),
    outflow10Mm: atLeast(sdOf(levelAt(-10), true), DEFAULT_SPREAD.outflow10Mm),
    narrowingMid: DEFAULT_SPREAD.narrowingMid,
    narrowing: DEFAULT_SPREAD.narrowing,
    startMm: DEFAULT_SPREAD.startMm,
  };
}
