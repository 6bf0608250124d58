import type { CalciumDeposit, Cusp, RootSurvey, Xyz } from '../../src/core/root/root-types.ts';
import type { Fact, Ucum } from '../../src/core/units/fact.ts';

/** A fact with a symmetric 95 % interval, as a survey would give it. */
export function testFact(value: number | null, half = 0.4, unit: Ucum = 'mm'): Fact {
  const source = { kind: 'computed', method: 'test/1', by: 'test', at: '2026-01-01T00:00:00Z', from: [] } as const;
  if (value === null) return { value: null, unit, low: null, high: null, status: 'refused', source, reasons: [{ code: 'not-measured', text: 'Not measured.', next: 'Measure it.' }] };
  return { value, unit, low: value - half, high: value + half, status: 'settled', source, reasons: [] };
}

export interface TestRoot {
  /** Circle-like ring: the diameters are set apart by `ellipticity`, perimeter and area follow the exact ellipse. */
  readonly diameterMm?: number;
  readonly ellipticity?: number;
  readonly diameterHalfMm?: number;
  readonly sinusWidthMm?: number | null;
  readonly sinusHeightMm?: number | null;
  readonly ascendingMm?: number | null;
  readonly outflowMm?: number;
  readonly junctionMm?: number | null;
  readonly junctionWidthMm?: number | null;
  readonly septumMm?: number | null;
  readonly bulgeMm?: number;
  readonly bulgeHeightMm?: number;
  readonly leafletMm?: number | null;
  readonly ostia?: { readonly left?: number; readonly right?: number };
  readonly ostiumAxisMm?: number;
  readonly deposits?: readonly CalciumDeposit[];
}

/** A measured root with plain values and every section present: what sizing, landing and views read. */
export function makeTestRoot(t: TestRoot = {}): RootSurvey {
  const d = t.diameterMm ?? 23;
  const e = t.ellipticity ?? 1;
  const [min, max] = [d / Math.sqrt(e), d * Math.sqrt(e)];
  const half = t.diameterHalfMm ?? 0.4;
  const areaMm2 = (Math.PI / 4) * min * max;
  const h = ((max - min) / (max + min)) ** 2;
  const perimeterMm = (Math.PI / 2) * (min + max) * (1 + (3 * h) / (10 + Math.sqrt(4 - 3 * h))); // Ramanujan II, checks CT-04
  const areaHalf = (Math.PI / 2) * d * half;
  const at = (deg: number, radiusMm: number, heightMm: number): Xyz => [radiusMm * Math.cos((deg * Math.PI) / 180), radiusMm * Math.sin((deg * Math.PI) / 180), heightMm];
  const ring = (heightMm: number, r: number) => ({
    heightMm, areaMm2: testFact(Math.PI * r * r, 2 * Math.PI * r * half * 0.5, 'mm2'), perimeterMm: testFact(2 * Math.PI * r, Math.PI * half), minDiameterMm: testFact(2 * r, half), maxDiameterMm: testFact(2 * r, half),
    contourLps: Array.from({ length: 72 }, (_, i) => at(i * 5, r, heightMm)),
  });
  const ostium = (side: 'left' | 'right', deg: number) => {
    const height = t.ostia === undefined ? 13 : t.ostia[side];
    return height === undefined ? {} : { [side]: { ostiumLps: at(deg, t.ostiumAxisMm ?? 16, height), heightMm: testFact(height, 1) } };
  };
  const cusps = <T>(v: T): Record<Cusp, T> => ({ R: v, L: v, N: v });
  const opt = (v: number | null | undefined, otherwise: number): number | null => (v === undefined ? otherwise : v);
  const outflow = ring(-5, (t.outflowMm ?? d) / 2);
  const leaflet = opt(t.leafletMm, 10);
  return {
    basalPlane: { pointLps: [0, 0, 0], normalLps: [0, 0, 1], nadirsLps: { R: at(0, d / 2, 0), L: at(120, d / 2, 0), N: at(240, d / 2, 0) }, tiltUncertaintyDeg: 2, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } },
    angulationDeg: testFact(48, 2, 'deg'),
    basalRing: {
      areaMm2: testFact(areaMm2, areaHalf, 'mm2'), perimeterMm: testFact(perimeterMm, Math.PI * half), minDiameterMm: testFact(min, half), maxDiameterMm: testFact(max, half),
      areaDiameterMm: testFact(2 * Math.sqrt(areaMm2 / Math.PI), half), perimeterDiameterMm: testFact(perimeterMm / Math.PI, half), ellipticity: testFact(e, 0.03, '1'),
      contourLps: Array.from({ length: 72 }, (_, i) => at(i * 5, d / 2, 0)),
    },
    levels: Array.from({ length: 39 }, (_, i) => ring(i - 12, d / 2)),
    outflowTract: outflow,
    sinuses: { widthMm: cusps(testFact(opt(t.sinusWidthMm, 32))), heightMm: cusps(testFact(opt(t.sinusHeightMm, 20))) },
    sinotubularJunction: { heightMm: testFact(opt(t.junctionMm, 21), 1), diameterMm: testFact(opt(t.junctionWidthMm, 29)) },
    ascendingAorta: { diameterMm: testFact(opt(t.ascendingMm, 33)) },
    coronaries: { ...ostium('left', 120), ...ostium('right', 0) },
    leaflets: leaflet === null ? {} : cusps({ lengthMm: testFact(leaflet, 1.5) }),
    calcium: {
      thresholdHu: 600, volumeMm3: testFact(100, 20, 'mm3'), byCuspMm3: cusps(testFact(30, 8, 'mm3')), outflowMm3: testFact(5, 3, 'mm3'), outflowByCuspMm3: cusps(testFact(1, 1, 'mm3')),
      deposits: t.deposits ?? [], scoreUnit: 'mm3 above a contrast-relative threshold',
    },
    septum: { bulgeMm: testFact(t.bulgeMm ?? 0.8, 0.6), bulgeHeightMm: testFact(t.bulgeHeightMm ?? -6, 1), angleToBasalPlaneDeg: testFact(80, 4, 'deg') },
    membranousSeptum: { lengthMm: testFact(t.septumMm === undefined ? null : t.septumMm, 1) },
    map: {
      azimuthDeg: Array.from({ length: 72 }, (_, i) => i * 5), heightMm: Array.from({ length: 39 }, (_, i) => i - 12),
      radiusMm: Array.from({ length: 39 }, () => Array.from({ length: 72 }, () => d / 2)), calciumHu: Array.from({ length: 39 }, () => Array.from({ length: 72 }, () => 300)),
    },
  } as RootSurvey;
}
