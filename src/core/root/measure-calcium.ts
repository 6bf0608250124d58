import { dot } from '../math/vec3.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { voxelRowsFromLps } from '../volume/sample-volume.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { fillBackground, refillBackground } from './calcium-background.ts';
import { splitSymmetric } from './calcium-ellipsoid.ts';
import { makeCuspSectors, sumBySector, type SectorSums } from './calcium-sectors.ts';
import type { DepositFit } from './calcium-types.ts';
import { fitDeposits } from './calcium-volume.ts';
import { cutCalciumGrid, makeWallProbe, ZONE_LOW_MM, ZONE_OUTSIDE_MM, type CalciumGrid, type WallProbe } from './calcium-zone.ts';
import { ABOVE_BLOOD_HU, findDeposits, type DepositSearch } from './find-deposits.ts';
import type { WallTable } from './find-junction.ts';
import { lpsFromCylinder, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type CalciumDeposit, type Cusp, type RootCalcium } from './root-types.ts';

const METHOD = 'root.calcium/1';
const UNIT = 'mm3 above a contrast-relative threshold';
/** Below this the blood is not opacified and nothing here holds. */
const LEAST_BLOOD_HU = 150;
/** Smaller answers are noise. */
const LEAST_DEPOSIT_MM3 = 1;
/** One standard deviation of what goes in, as the root survey gives it [M]. */
const BLUR_SD_RATIO = 0.1;
const BACKGROUND_SD_HU = 20;
const PLATEAU_SD_RATIO = 0.03;
/** Part of a volume that the ellipsoid, the fill-in and the parting of neighbours leave open (measured on phantoms). */
const SHAPE_SD_RATIO = 0.045;
/** Two readings of a deposit of unequal density: this share of their distance. */
const LUMP_SD_RATIO = 0.5;
/** Noise of neighbouring voxels goes together: voxels per independent sample [M]. */
const NOISE_GROUP = 6;
/** Sector lines and basal plane, one standard deviation. */
const SECTOR_SD_MM = 0.6;
const PLANE_SD_MM = 0.5;
/** A typical deposit's height above blood, for what may hide below the threshold [M]. */
const TYPICAL_ABOVE_HU = 500;

export interface CalciumInput {
  readonly volume: CtVolume;
  readonly frame: RootFrame;
  readonly wall: WallTable;
  /** Each cusp's sector, counter-clockwise from `from` to `to`; azimuths of the frame. */
  readonly commissureRad: ByCusp<{ readonly from: number; readonly to: number }>;
  readonly bloodHu: number;
  readonly bloodPerMmHu: number;
  readonly noiseHu: number;
  readonly blurMm: number;
  readonly junctionHeightMm: number;
  readonly stamp: FactStamp;
  readonly doubts: readonly Reason[];
}

function refuseAll(input: CalciumInput, reason: Reason): RootCalcium {
  const refused = refuseFact('mm3', METHOD, input.stamp, reason);
  const each = { R: refused, L: refused, N: refused };
  return {
    thresholdHu: input.bloodHu + ABOVE_BLOOD_HU, volumeMm3: refused, byCuspMm3: each, outflowMm3: refused, outflowByCuspMm3: each,
    deposits: [], scoreUnit: UNIT,
  };
}

/** Every radius of the zone known and the wall about the axis on the basal plane; below it the frame's axis may leave the lumen. */
function hasWall(wall: WallTable, topMm: number): boolean {
  for (let h = 0; h < wall.heights; h++) {
    const heightMm = wall.lowMm + h * wall.stepMm;
    if (heightMm < ZONE_LOW_MM || heightMm > topMm) continue;
    for (let a = 0; a < wall.azimuths; a++) if (!Number.isFinite(wall.radiusMm[h * wall.azimuths + a]!)) return false;
  }
  const basal = Math.round(-wall.lowMm / wall.stepMm) * wall.azimuths;
  return wall.radiusMm.subarray(basal, basal + wall.azimuths).every((r) => r > 0) && basal >= 0 && basal < wall.radiusMm.length;
}

/** Why nothing can be measured; null when it can. */
function findObstacle(input: CalciumInput): Reason | null {
  const { bloodHu, bloodPerMmHu, noiseHu, blurMm, junctionHeightMm, wall } = input;
  const isFinite = [bloodHu, bloodPerMmHu, noiseHu, blurMm, junctionHeightMm].every((v) => Number.isFinite(v));
  if (!isFinite || !(blurMm > 0) || !(noiseHu >= 0) || !(junctionHeightMm > 0) || !hasWall(wall, junctionHeightMm)) {
    return {
      code: 'calcium-input-incomplete', text: 'Blood level, noise, blur, junction or wall of the root are not known, so calcium cannot be told from blood.',
      next: 'Check the marks of the root on the pictures and measure again.',
    };
  }
  if (!(bloodHu >= LEAST_BLOOD_HU)) {
    return {
      code: 'calcium-no-contrast', text: `Blood of ${Math.round(bloodHu)} HU is not opacified (${LEAST_BLOOD_HU} HU are needed); the contrast-relative volume does not hold here.`,
      next: 'Use the contrast series, or score a non-contrast gated series instead.',
    };
  }
  return null;
}

function listScanDoubts(input: CalciumInput): Reason[] {
  const doubts: Reason[] = [];
  const m = voxelRowsFromLps(input.volume);
  let outside = 0;
  let asked = 0;
  const { radiusMm, heights, azimuths, lowMm, stepMm } = input.wall;
  for (let h = 0; h < heights; h += 4) {
    const heightMm = lowMm + h * stepMm;
    if (heightMm < ZONE_LOW_MM || heightMm > input.junctionHeightMm) continue;
    for (let a = 0; a < azimuths; a += 6) {
      const p = lpsFromCylinder(input.frame, { azimuthRad: (2 * Math.PI * a) / azimuths, heightMm, radiusMm: radiusMm[h * azimuths + a]! + ZONE_OUTSIDE_MM });
      asked++;
      const isIn = [0, 1, 2].every((r) => {
        const c = dot([m[r * 4]!, m[r * 4 + 1]!, m[r * 4 + 2]!], p) + m[r * 4 + 3]!;
        return c >= 0 && c <= input.volume.dims[r]! - 1;
      });
      if (!isIn) outside++;
    }
  }
  if (outside > 0) {
    doubts.push({
      code: 'calcium-zone-cut', text: `The scan ends within the landing zone (${Math.round((100 * outside) / asked)} % of its rim is missing); calcium there is not counted.`,
      next: 'Use a series that holds the root whole.',
    });
  }
  const coarsest = Math.max(...input.volume.spacingMm);
  if (coarsest > 1 || input.blurMm > 1) {
    doubts.push({
      code: 'calcium-coarse-scan', text: `Voxels of ${coarsest.toFixed(2)} mm and a blur of ${input.blurMm.toFixed(2)} mm hide small deposits and make the volume of the others uncertain.`,
      next: 'Use the thinnest reconstruction of this scan.',
    });
  }
  return doubts;
}

interface MeasuredDeposit {
  readonly fit: DepositFit;
  readonly sums: SectorSums;
  /** One standard deviation of what is this deposit's own: noise, background, plateau, shape. */
  readonly ownSdMm3: number;
  /** Change by one standard deviation of the blur, common to all. */
  readonly blurMm3: number;
  readonly moved: readonly SectorSums[];
}

/** Greatest depth of the ellipsoid's surface inside the wall; 0 when it stays outside. */
function measureProtrusion(fit: DepositFit, wall: WallProbe): number {
  const { values, vectors } = splitSymmetric(fit.ellipsoid.spread);
  const axes = values.map((v) => Math.sqrt(Math.max(0, v)));
  let deepest = 0;
  for (let t = 0; t <= 12; t++) {
    for (let p = 0; p < 24; p++) {
      const [st, ct] = [Math.sin((t * Math.PI) / 12), Math.cos((t * Math.PI) / 12)];
      const s = [axes[0]! * st * Math.cos((p * Math.PI) / 12), axes[1]! * st * Math.sin((p * Math.PI) / 12), axes[2]! * ct];
      const at = [0, 1, 2].map((r) => fit.ellipsoid.centre[r]! + vectors[r * 3]! * s[0]! + vectors[r * 3 + 1]! * s[1]! + vectors[r * 3 + 2]! * s[2]!);
      deepest = Math.max(deepest, wall.depthMm(at[0]!, at[1]!, at[2]!));
    }
  }
  return deepest;
}

/**
 * Calcium of the landing zone in a contrast CT: volume by cusp above the basal plane and in the outflow tract below it.
 *
 * Units     HU and mm in; mm3 out, each with a 95 % interval
 * Frame     LPS; heights along the frame's normal from -10 mm to the sinotubular junction, inside the wall and up to
 *           2.5 mm outside it
 * Equation  docs/methods/calcium.md: blood + max(100 HU, 3.5 noise) finds, a blurred ellipsoid matched in moments measures
 * Fails     refused Facts: calcium-input-incomplete, calcium-no-contrast, calcium-zone-outside-scan
 * Source    docs/methods/calcium.md
 * Accuracy  64 phantoms: deposits of 20 mm3 and more 3.8 % (median), 16.6 % (95th percentile); whole zone 2.6 %, 11.4 %
 */
export function measureCalcium(input: CalciumInput): RootCalcium {
  const obstacle = findObstacle(input);
  if (obstacle) return refuseAll(input, obstacle);
  const wall = makeWallProbe(input.wall);
  const topMm = input.junctionHeightMm;
  const g = cutCalciumGrid(input.volume, input.frame, wall.widestMm, topMm);
  if (!g) {
    return refuseAll(input, {
      code: 'calcium-zone-outside-scan', text: 'The landing zone lies outside this scan.', next: 'Check the marks of the root, or use a series that holds it.',
    });
  }
  const search = findDeposits(g, wall, input, input.noiseHu, topMm);
  const reasons = [...input.doubts, ...listScanDoubts(input), ...search.doubts];
  const measured = measureDeposits(g, search, input);
  return writeAnswer(input, wall, search, measured, reasons);
}

function measureDeposits(g: CalciumGrid, search: DepositSearch, input: CalciumInput): readonly MeasuredDeposit[] {
  const plain = { blurMm: input.blurMm, noiseHu: input.noiseHu, shiftHu: 0, plateauRatio: 1 };
  const wide = fillBackground(g, search.deposits, 2.3 * input.blurMm + 0.25);
  const rough = fitDeposits(g, search.deposits, wide, { ...plain, rounds: 1, steps: 4 });
  const background = refillBackground(g, wide, rough, input.blurMm);
  const fits = fitDeposits(g, search.deposits, background, { ...plain, start: rough, rounds: 2, steps: 4 });
  const again = (change: Partial<typeof plain>): readonly DepositFit[] =>
    fitDeposits(g, search.deposits, background, { ...plain, ...change, start: fits, rounds: 1, steps: 2 });
  const blurred = again({ blurMm: input.blurMm * (1 + BLUR_SD_RATIO) });
  const shifted = again({ shiftHu: BACKGROUND_SD_HU });
  const brighter = again({ plateauRatio: 1 + PLATEAU_SD_RATIO });
  const sectors = makeCuspSectors(input.wall, input.commissureRad, input.junctionHeightMm);
  const moves = [[SECTOR_SD_MM, 0, 0], [-SECTOR_SD_MM, 0, 0], [0, SECTOR_SD_MM, 0], [0, -SECTOR_SD_MM, 0], [0, 0, PLANE_SD_MM], [0, 0, -PLANE_SD_MM]] as const;
  return fits.flatMap((fit, d): MeasuredDeposit[] => {
    if (!(fit.volumeMm3 >= LEAST_DEPOSIT_MM3)) return [];
    const touched = background.touched[d]!;
    const sums = sumBySector(g, touched, fit, sectors, [0, 0, 0], input.junctionHeightMm);
    if (!(sums.totalMm3 > 0)) return [];
    const noiseMm3 = (input.noiseHu / Math.max(100, fit.contrastHu)) * 1.2 * Math.sqrt(fit.edgeVoxels * NOISE_GROUP) * g.voxelMm3;
    const shape = Math.hypot(fit.volumeMm3 * SHAPE_SD_RATIO, LUMP_SD_RATIO * fit.lumpMm3);
    return [{
      fit, sums, ownSdMm3: Math.hypot(noiseMm3, shape, shifted[d]!.volumeMm3 - fit.volumeMm3, brighter[d]!.volumeMm3 - fit.volumeMm3),
      blurMm3: blurred[d]!.volumeMm3 - fit.volumeMm3,
      moved: moves.map((by) => sumBySector(g, touched, fit, sectors, by, input.junctionHeightMm)),
    }];
  });
}

type ReadSums = (s: SectorSums) => number;

/** Sum over deposits with its interval: own parts in quadrature, the blur common to all, lines and plane common to all. */
function makeVolumeFact(input: CalciumInput, measured: readonly MeasuredDeposit[], read: ReadSums, hiddenMm3: number, reasons: readonly Reason[]): Fact {
  let [value, own, blur] = [0, 0, 0];
  const moved = [0, 0, 0, 0, 0, 0];
  for (const m of measured) {
    const part = read(m.sums);
    value += part;
    const share = m.fit.volumeMm3 > 0 ? part / m.fit.volumeMm3 : 0;
    own += (share * m.ownSdMm3) ** 2;
    blur += share * m.blurMm3;
    m.moved.forEach((s, n) => { moved[n] = moved[n]! + read(s) - part; });
  }
  const lines = [0, 2, 4].map((n) => (Math.abs(moved[n]!) + Math.abs(moved[n + 1]!)) / 2);
  const sd = Math.hypot(Math.sqrt(own), blur, ...lines);
  return makeFact(value, Math.max(0, value - 1.96 * sd), value + 1.96 * sd + hiddenMm3, 'mm3', METHOD, ['root.basalPlane', 'root.levels', 'scan.contrastHu'], input.stamp, reasons);
}

function byCusp<T>(make: (cusp: Cusp) => T): ByCusp<T> {
  return { R: make('R'), L: make('L'), N: make('N') };
}

function writeAnswer(input: CalciumInput, wall: WallProbe, search: DepositSearch, measured: readonly MeasuredDeposit[], reasons: readonly Reason[]): RootCalcium {
  // A small deposit shows a peak of contrast x volume / ((2 pi)^1.5 sigma^3): what stays below the threshold may hide.
  const seenBlur = Math.hypot(input.blurMm, 0.45);
  const hiddenMm3 = ((search.thresholdHu - input.bloodHu) / TYPICAL_ABOVE_HU) * (2 * Math.PI) ** 1.5 * seenBlur ** 3;
  const fact = (read: ReadSums): Fact => makeVolumeFact(input, measured, read, hiddenMm3, reasons);
  const f = input.frame;
  const sectors = makeCuspSectors(input.wall, input.commissureRad, input.junctionHeightMm);
  const deposits = measured.map((m): CalciumDeposit => {
    const [x, y, h] = m.fit.ellipsoid.centre;
    const centreLps = [0, 1, 2].map((r) => f.originLps[r]! + x * f.uLps[r]! + y * f.vLps[r]! + h * f.normalLps[r]!) as unknown as CalciumDeposit['centreLps'];
    return { centreLps, volumeMm3: m.sums.totalMm3, cusp: sectors.findCusp(x, y, h), heightMm: h, protrusionMm: measureProtrusion(m.fit, wall) };
  });
  deposits.sort((a, b) => b.volumeMm3 - a.volumeMm3 || a.heightMm - b.heightMm);
  return {
    thresholdHu: search.thresholdHu, volumeMm3: fact((s) => s.totalMm3),
    byCuspMm3: byCusp((c) => fact((s) => s.aboveMm3[c])),
    outflowMm3: fact((s) => CUSPS.reduce((t, c) => t + s.belowMm3[c], 0)),
    outflowByCuspMm3: byCusp((c) => fact((s) => s.belowMm3[c])),
    deposits, scoreUnit: UNIT,
  };
}
