/**
 * An invented root with closed formulas, and the plan and the CT that belong to it: for the pictures and pages only.
 * Nothing here is measured; the numbers are what a survey of this shape would say.
 */
import { along, cross, unit, type Vec3 } from '../../src/core/math/vec3.ts';
import { uniformAt } from '../../src/core/math/random.ts';
import { lpsFromCylinder, type RootFrame } from '../../src/core/root/root-frame.ts';
import { completePlan, type PlanTables } from '../../src/core/case/complete-plan.ts';
import type { Plan } from '../../src/core/case/plan-types.ts';
import type { DeviceTable, PatientFacts } from '../../src/core/device/device-types.ts';
import { TRAINING_TABLE } from '../../src/core/device/training-table.ts';
import { forecastRelease } from '../../src/core/release/forecast-release.ts';
import { REFERENCE_ROOTS } from '../../src/core/release/reference-roots.ts';
import type { ReleaseForecast, ReleaseVerdict, World } from '../../src/core/release/release-types.ts';
import type { Cusp, LevelRing, RootSurvey, Xyz } from '../../src/core/root/root-types.ts';
import { makeFact, refuseFact, type Fact, type Reason, type Ucum } from '../../src/core/units/fact.ts';
import type { CtVolume } from '../../src/core/volume/volume-types.ts';
import { askReference } from './release-fixtures.ts';

const STAMP = { by: 'trinadir 0.1.0', at: '2026-03-02T08:11:00Z' };
const RAD = Math.PI / 180;
const NADIR_AZIMUTH_DEG = { R: 0, L: 122, N: 238 } as const;
const JUNCTION_MM = 19.6;
const NORMAL: Vec3 = unit([-0.42, -0.3, 0.86]);
// The R nadir lies to the front of the body: LPS -y, made square to the normal.
const FRONT = unit([-NORMAL[1] * NORMAL[0], 1 - NORMAL[1] ** 2, -NORMAL[1] * NORMAL[2]].map((v) => -v) as unknown as Vec3);
export const EXAMPLE_FRAME: RootFrame = {
  originLps: [-8.2, -172.4, 214.6], normalLps: NORMAL, uLps: FRONT, vLps: cross(NORMAL, FRONT),
};
const SPOTS = [
  { azimuthDeg: 228, heightMm: 5, radiusDeg: 26, halfMm: 3.4, hu: 1150, volumeMm3: 148.4, protrusionMm: 2.6, cusp: 'N' },
  { azimuthDeg: 262, heightMm: -3, radiusDeg: 12, halfMm: 2.6, hu: 980, volumeMm3: 46.1, protrusionMm: 3.1, cusp: 'N' },
  { azimuthDeg: 118, heightMm: 8, radiusDeg: 17, halfMm: 2.4, hu: 900, volumeMm3: 61.7, protrusionMm: 1.4, cusp: 'L' },
  { azimuthDeg: 12, heightMm: 7, radiusDeg: 14, halfMm: 2, hu: 860, volumeMm3: 38.9, protrusionMm: 1.1, cusp: 'R' },
] as const;

/** Radius of the wall in mm: an oval ring, three unequal sinuses, a tapered outflow tract with a bulge of the septum. */
export function exampleRadiusMm(azimuthRad: number, heightMm: number): number {
  const oval = 12.1 + 1.35 * Math.cos(2 * (azimuthRad - 38 * RAD));
  const rise = Math.max(0, Math.min(1, heightMm / JUNCTION_MM));
  const lobes = 0.72 + 0.28 * Math.cos(3 * azimuthRad) + 0.05 * Math.cos(azimuthRad - 2.2);
  const sinus = heightMm > 0 && heightMm < JUNCTION_MM ? 5.4 * Math.sin(Math.PI * rise ** 0.8) * lobes : 0;
  const above = heightMm > 0 ? (14.2 - oval) * rise * rise * (3 - 2 * rise) : 0;
  const taper = heightMm < 0 ? 0.07 * heightMm : 0;
  let turn = (azimuthRad + 32 * RAD) % (2 * Math.PI);
  if (turn > Math.PI) turn -= 2 * Math.PI;
  if (turn < -Math.PI) turn += 2 * Math.PI;
  const bulge = 2.7 * Math.exp(-((turn / 0.62) ** 2) - ((heightMm + 6.5) / 3.1) ** 2);
  return oval + sinus + above + taper - bulge;
}

function contourAt(heightMm: number): Xyz[] {
  return Array.from({ length: 120 }, (_, i) => {
    const azimuthRad = (i * 2 * Math.PI) / 120;
    return lpsFromCylinder(EXAMPLE_FRAME, { azimuthRad, heightMm, radiusMm: exampleRadiusMm(azimuthRad, heightMm) });
  });
}
function measureAt(heightMm: number): { area: number; perimeter: number; min: number; max: number } {
  const n = 360;
  const points = Array.from({ length: n }, (_, i) => {
    const r = exampleRadiusMm((i * 2 * Math.PI) / n, heightMm);
    return [r * Math.cos((i * 2 * Math.PI) / n), r * Math.sin((i * 2 * Math.PI) / n)] as const;
  });
  let area = 0;
  let perimeter = 0;
  points.forEach((p, i) => {
    const q = points[(i + 1) % n]!;
    area += (p[0] * q[1] - p[1] * q[0]) / 2;
    perimeter += Math.hypot(q[0] - p[0], q[1] - p[1]);
  });
  const widths = Array.from({ length: 180 }, (_, d) => {
    const along = points.map((p) => p[0] * Math.cos(d * RAD) + p[1] * Math.sin(d * RAD));
    return Math.max(...along) - Math.min(...along);
  });
  return { area, perimeter, min: Math.min(...widths), max: Math.max(...widths) };
}

function fact(value: number, half: number, unitCode: Ucum, method: string, reasons: readonly Reason[] = []): Fact {
  return makeFact(value, value - half, value + half, unitCode, method, ['root.nadirs'], STAMP, reasons);
}
const BLURRED: Reason = {
  code: 'edge-blurred', text: 'The wall is blurred on this side: the slices are thicker than the step to be seen.',
  next: 'Use the thinnest reconstruction of this scan, or mark the edge by hand.',
};

function ringFacts(heightMm: number, grow: number, reasons: readonly Reason[] = []) {
  const m = measureAt(heightMm);
  return {
    areaMm2: fact(m.area, 9 * grow, 'mm2', 'root.level/1', reasons),
    perimeterMm: fact(m.perimeter, 0.9 * grow, 'mm', 'root.level/1', reasons),
    minDiameterMm: fact(m.min, 0.35 * grow, 'mm', 'root.level/1', reasons),
    maxDiameterMm: fact(m.max, 0.4 * grow, 'mm', 'root.level/1', reasons),
  };
}
function levelRing(heightMm: number): LevelRing {
  const reasons = heightMm <= -10 ? [BLURRED] : [];
  return { heightMm, ...ringFacts(heightMm, heightMm <= -10 ? 2.6 : 1, reasons), contourLps: contourAt(heightMm) };
}
const nadirLps = (cusp: Cusp): Xyz => {
  const azimuthRad = NADIR_AZIMUTH_DEG[cusp] * RAD;
  return lpsFromCylinder(EXAMPLE_FRAME, { azimuthRad, heightMm: 0, radiusMm: exampleRadiusMm(azimuthRad, 0) });
};
function ostium(azimuthDeg: number, heightMm: number, half: number, reasons: readonly Reason[] = []) {
  const azimuthRad = azimuthDeg * RAD;
  const radiusMm = exampleRadiusMm(azimuthRad, heightMm);
  return {
    ostiumLps: lpsFromCylinder(EXAMPLE_FRAME, { azimuthRad, heightMm, radiusMm }),
    heightMm: fact(heightMm, half, 'mm', 'root.ostium/1', reasons),
  };
}

function exampleMap(): RootSurvey['map'] {
  const azimuthDeg = Array.from({ length: 72 }, (_, i) => i * 5);
  const heightMm = Array.from({ length: 36 }, (_, i) => i - 12);
  return {
    azimuthDeg, heightMm,
    // A side branch leaves a few places without a wall.
    radiusMm: heightMm.map((h) => azimuthDeg.map((a) =>
      Math.hypot((a - 128) / 7, (h - 13.2) / 1.7) < 1 ? null : exampleRadiusMm(a * RAD, h))),
    calciumHu: heightMm.map((h) => azimuthDeg.map((a) => SPOTS.reduce((most, s) => {
      const turn = ((a - s.azimuthDeg + 540) % 360) - 180;
      return Math.max(most, s.hu * Math.exp(-((turn / s.radiusDeg) ** 2) - ((h - s.heightMm) / s.halfMm) ** 2));
    }, 410))),
  };
}

function exampleRoot(): RootSurvey {
  const ring = measureAt(0);
  const levels = Array.from({ length: 33 }, (_, i) => levelRing(i - 12));
  const zero = fact(0.4, 0.4, 'mm3', 'root.calcium/1');
  return {
    basalPlane: {
      pointLps: EXAMPLE_FRAME.originLps as Xyz, normalLps: NORMAL as Xyz,
      nadirsLps: { R: nadirLps('R'), L: nadirLps('L'), N: nadirLps('N') },
      tiltUncertaintyDeg: 0.9, nadirUncertaintyMm: { R: 0.5, L: 0.6, N: 0.7 },
    },
    angulationDeg: fact(49.3, 0.9, 'deg', 'root.angulation/1'),
    basalRing: {
      areaMm2: fact(ring.area, 8.6, 'mm2', 'root.basalRing/1'),
      perimeterMm: fact(ring.perimeter, 0.9, 'mm', 'root.basalRing/1'),
      minDiameterMm: fact(ring.min, 0.35, 'mm', 'root.basalRing/1'),
      maxDiameterMm: fact(ring.max, 0.4, 'mm', 'root.basalRing/1'),
      areaDiameterMm: fact(2 * Math.sqrt(ring.area / Math.PI), 0.22, 'mm', 'root.basalRing/1'),
      perimeterDiameterMm: fact(ring.perimeter / Math.PI, 0.29, 'mm', 'root.basalRing/1'),
      ellipticity: fact(ring.max / ring.min, 0.03, '1', 'root.basalRing/1'),
      contourLps: contourAt(0),
    },
    levels,
    outflowTract: { heightMm: -5, ...ringFacts(-5, 1) },
    sinuses: {
      widthMm: { R: fact(32.6, 0.6, 'mm', 'root.sinus/1'), L: fact(31.4, 0.6, 'mm', 'root.sinus/1'), N: fact(33.3, 0.7, 'mm', 'root.sinus/1') },
      heightMm: { R: fact(19.2, 0.7, 'mm', 'root.sinus/1'), L: fact(18.4, 0.7, 'mm', 'root.sinus/1'), N: fact(20.1, 0.8, 'mm', 'root.sinus/1') },
    },
    sinotubularJunction: { heightMm: fact(JUNCTION_MM, 0.6, 'mm', 'root.junction/1'), diameterMm: fact(28.4, 0.5, 'mm', 'root.junction/1') },
    ascendingAorta: { diameterMm: fact(33.2, 0.6, 'mm', 'root.ascending/1') },
    coronaries: {
      left: ostium(128, 13.2, 0.6),
      right: ostium(8, 15.8, 1.9, [{
        code: 'ostium-moving', text: 'The right ostium is smeared over two places by motion.',
        next: 'Look at a second phase of the scan, or mark the lower edge of the ostium by hand.',
      }]),
    },
    leaflets: { L: { lengthMm: fact(13.1, 0.9, 'mm', 'root.leaflet/1') }, N: { lengthMm: fact(13.6, 1, 'mm', 'root.leaflet/1') } },
    calcium: {
      thresholdHu: 620,
      volumeMm3: fact(295, 24, 'mm3', 'root.calcium/1'),
      byCuspMm3: { R: fact(38.9, 6, 'mm3', 'root.calcium/1'), L: fact(61.7, 8, 'mm3', 'root.calcium/1'), N: fact(194.5, 18, 'mm3', 'root.calcium/1') },
      outflowMm3: fact(46.1, 7, 'mm3', 'root.calcium/1'),
      outflowByCuspMm3: { R: zero, L: zero, N: fact(45.3, 7, 'mm3', 'root.calcium/1') },
      deposits: SPOTS.map((s) => ({
        centreLps: lpsFromCylinder(EXAMPLE_FRAME, {
          azimuthRad: s.azimuthDeg * RAD, heightMm: s.heightMm, radiusMm: exampleRadiusMm(s.azimuthDeg * RAD, s.heightMm) - 1,
        }),
        volumeMm3: s.volumeMm3, cusp: s.cusp, heightMm: s.heightMm, protrusionMm: s.protrusionMm,
      })),
      scoreUnit: 'mm3 above a contrast-relative threshold',
    },
    septum: {
      bulgeMm: fact(2.6, 0.5, 'mm', 'root.septum/1'), bulgeHeightMm: fact(-6.5, 0.8, 'mm', 'root.septum/1'),
      angleToBasalPlaneDeg: fact(112, 6, 'deg', 'root.septum/1', [BLURRED]),
    },
    membranousSeptum: {
      lengthMm: refuseFact('mm', 'root.membranousSeptum/1', STAMP, {
        code: 'membranous-septum-not-seen', text: 'The step from muscle to membrane does not show at this noise.',
        next: 'Measure it by hand on the cut through the R nadir, or leave it out.',
      }),
    },
    map: exampleMap(),
  };
}

export function makeExamplePlan(): Plan {
  return {
    format: 'trinadir.plan/1', madeBy: STAMP.by, madeAt: STAMP.at, training: true,
    inputs: { files: 241, bytes: 126_877_696, sha256: '3b1f0c7e'.repeat(8) },
    scan: {
      studyUid: '2.25.100', seriesUid: '2.25.101', frameOfReferenceUid: '2.25.102',
      rows: 512, columns: 512, slices: 241, spacingMm: [0.45, 0.45, 0.6], phasePercent: 35,
      contrastHu: fact(421, 6, '[hnsf\'U]', 'scan.contrast/1'), noiseHu: fact(27, 2, '[hnsf\'U]', 'scan.noise/1'),
      verdict: 'fit with doubt',
      findings: [
        { code: 'motion-step', severity: 'doubt', text: 'A step of 1.1 mm runs through the right ostium.', next: 'Use another phase if there is one.' },
        { code: 'phase-systolic', severity: 'note', text: 'The phase of 35 % lies in systole, when the ring is largest.', next: 'Nothing to do.' },
      ],
    },
    root: exampleRoot(),
    messages: [
      { code: 'leaflet-not-seen', section: 'root', text: 'The edge of the right leaflet is hidden by calcium; its length was not measured.', next: 'Measure it by hand on the cut through the R nadir.' },
      { code: 'no-device-table', section: 'size', text: 'No device table was given, so no size was chosen.', next: 'Give the hospital\'s signed table with --devices.' },
      { code: 'needs-size', section: 'landing', text: 'The landing window needs a chosen size.', next: 'Give a device table first.' },
    ],
  };
}

/** The example with the Agatston score of a second, non-contrast series. */
export function makeScoredPlan(): Plan {
  const plan = makeExamplePlan();
  const root: RootSurvey = {
    ...plan.root!,
    calciumScore: {
      score: fact(1310, 140, "{Agatston'U}", 'root.agatston/1'), volumeMm3: fact(1020, 90, 'mm3', 'root.agatston/1'), lesions: 9,
      severity: {
        likelihood: 'likely', couldBe: ['grey', 'likely'], sex: 'F', reasons: [],
        threshold: { value: 1200, unit: "{Agatston'U}", edition: 'an edition', status: 'C', source: 'a source' },
      },
      zone: { lowMm: -2, highMm: JUNCTION_MM, marginMm: 3 }, boneShiftMm: [0.3, -0.2, null],
      series: { seriesUid: '2.25.103', sha256: '5a'.repeat(32), slices: 44, sliceThicknessMm: 3, incrementMm: 3, kvp: 120, phasePercent: 75, bloodHu: 41 },
      scoreUnit: 'Agatston units, non-contrast',
    },
  };
  return { ...plan, root };
}

/** Invented sizes around the ring of the example: 27 holds alone. */
function makeExampleTable(): DeviceTable {
  const device = TRAINING_TABLE.devices[0]!;
  const ranges: Readonly<Record<string, readonly [number, number]>> = { '24': [60, 70], '27': [70, 83], '30': [83, 95] };
  const sizes = device.sizes.filter((s) => s.label in ranges).map((s) => ({ ...s, basalPerimeterMm: ranges[s.label]!, basalDiameterMm: [ranges[s.label]![0] / Math.PI - 3, ranges[s.label]![1] / Math.PI + 3] as const }));
  return { ...TRAINING_TABLE, devices: [{ ...device, id: 'training-flare', sizes }] };
}
const PATIENT: PatientFacts = {
  format: 'trinadir.patient/1', by: 'reader', catheterTension: 'neutral', vesselMinMm: { right: { value: 7, halfWidth95: 0.3 } },
  membranousSeptumMm: { value: 5.2, halfWidth95: 0.6 }, mitralClearanceMm: { value: 9, halfWidth95: 1 },
};

/** The example with size, landing, views and release; the forecast is that of a closed-form root and cannot say. */
export function makeCompletedPlan(change: { readonly keepsOutflowCalcium?: boolean; readonly tables?: Partial<PlanTables> } = {}): Plan {
  const plan = makeExamplePlan();
  const { calcium } = plan.root!;
  const deposits = calcium!.deposits.filter((d) => change.keepsOutflowCalcium || d.heightMm > 0);
  const root: RootSurvey = { ...plan.root!, calcium: { ...calcium!, deposits } };
  const { size, landing, views, rules, messages } = completePlan(root, { devices: makeExampleTable(), rules: null, patient: PATIENT, patientPosition: 'HFS', ...change.tables });
  const release = landing?.startMm == null ? null : makeExampleForecast(landing.startMm);
  return {
    ...plan, root, size, ...(landing ? { landing } : {}), views, ...(release ? { release } : {}), ...(rules ? { rules } : {}),
    messages: [plan.messages[0]!, ...messages],
  };
}
/** Few releases: enough for a picture. */
function makeExampleForecast(startMm: number): ReleaseForecast {
  return forecastRelease(askReference(REFERENCE_ROOTS.bulge, { startMm, sweepMm: [-2, 1, 4, 7, 10], releases: 60 }));
}

/** A forecast that answers: the verdict and those of the worlds are set by hand, the numbers stay. */
export function setVerdict(release: ReleaseForecast, answer: ReleaseVerdict, worlds: Readonly<Record<World, ReleaseVerdict>>): ReleaseForecast {
  const sweep = release.sweep.map((s) => s.startMm !== release.startMm ? s : {
    ...s, worlds: { gripping: { ...s.worlds.gripping, answer: worlds.gripping }, middle: { ...s.worlds.middle, answer: worlds.middle }, slippery: { ...s.worlds.slippery, answer: worlds.slippery } },
  });
  return { ...release, answer, refusals: [], sweep };
}

/** A root that refuses nearly everything: the page must still say what and why. */
export function makeRefusedPlan(): Plan {
  const plan = makeExamplePlan();
  const refuse = (value: unknown): unknown => {
    if (Array.isArray(value)) return value.map(refuse);
    if (value === null || typeof value !== 'object') return value;
    const record = value as Record<string, unknown>;
    if ('status' in record && 'reasons' in record) {
      return refuseFact((value as Fact).unit, (value as Fact).source.method, STAMP, {
        code: 'contrast-too-low', text: 'Blood and wall differ by 40 HU only.', next: 'Scan again with contrast timed to the aorta.',
      });
    }
    return Object.fromEntries(Object.entries(record).map(([key, inner]) => [key, refuse(inner)]));
  };
  return { ...plan, training: false, root: refuse(plan.root) as RootSurvey };
}

/** The invented root as a small CT: blood, wall, fat, calcium, the left main stem, gentle noise. */
export function makeExampleVolume(): CtVolume {
  const n = 116;
  const spacing = 0.8;
  const centre = along(EXAMPLE_FRAME.originLps, NORMAL, 8);
  const corner = centre.map((c) => c - ((n - 1) * spacing) / 2) as unknown as Xyz;
  const samplesHu = new Int16Array(n * n * n);
  const { originLps: o, uLps: u, vLps: v } = EXAMPLE_FRAME;
  const spots = SPOTS.map((s) => ({
    hu: s.hu, sizeMm: s.volumeMm3 ** (1 / 3) * 0.62,
    at: lpsFromCylinder(EXAMPLE_FRAME, {
      azimuthRad: s.azimuthDeg * RAD, heightMm: s.heightMm,
      radiusMm: exampleRadiusMm(s.azimuthDeg * RAD, s.heightMm) - 0.8,
    }),
  }));
  let at = 0;
  for (let k = 0; k < n; k++) for (let j = 0; j < n; j++) for (let i = 0; i < n; i++, at++) {
    const d = [corner[0] + i * spacing - o[0], corner[1] + j * spacing - o[1], corner[2] + k * spacing - o[2]] as const;
    const h = d[0] * NORMAL[0] + d[1] * NORMAL[1] + d[2] * NORMAL[2];
    const x = d[0] * u[0] + d[1] * u[1] + d[2] * u[2];
    const y = d[0] * v[0] + d[1] * v[1] + d[2] * v[2];
    const azimuth = Math.atan2(y, x);
    const r = Math.hypot(x, y);
    const out = r - exampleRadiusMm(azimuth, Math.min(h, 30));
    const blood = 1 / (1 + Math.exp(out / 0.35));
    const fat = out < 2.2 ? 70 : -75;
    const outside = fat + (105 - fat) / (1 + Math.exp((h - 1.5) / 0.5));
    let hu = outside + (421 - outside) * blood;
    for (const s of spots) {
      const gap = Math.hypot(d[0] + o[0] - s.at[0], d[1] + o[1] - s.at[1], d[2] + o[2] - s.at[2]) - s.sizeMm;
      if (gap < 4) hu += (s.hu - hu) / (1 + Math.exp(gap / 0.35));
    }
    const stem = Math.hypot(h - 13.2 - 0.2 * out, r * Math.sin(azimuth - 128 * RAD)) - 1.7;
    if (out > 0 && Math.cos(azimuth - 128 * RAD) > 0) hu += (410 - hu) / (1 + Math.exp(stem / 0.35));
    samplesHu[at] = Math.round(hu + 26 * (uniformAt(7, at, 0) + uniformAt(7, at, 1) - 1) * 1.7);
  }
  return {
    samplesHu, dims: [n, n, n], spacingMm: [spacing, spacing, spacing], paddingHu: null,
    lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [spacing, 0, 0, corner[0], 0, spacing, 0, corner[1], 0, 0, spacing, corner[2]] },
  };
}
