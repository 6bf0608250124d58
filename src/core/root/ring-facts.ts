import { makeFact, type FactStamp, type Reason, type Ucum, type Fact } from '../units/fact.ts';
import type { WallTable } from './find-junction.ts';
import { BASAL, drawContour, cutRing } from './map-wall.ts';
import { measureRing, smoothRing, type RingMeasures } from './measure-ring.ts';
import { spreadOfRing, type RingSpread, type RootUncertainty } from './propagate.ts';
import type { RootFrame } from './root-frame.ts';
import type { BasalRing, LevelRing } from './root-types.ts';

export interface FactMaker {
  readonly stamp: FactStamp;
  readonly doubts: readonly Reason[];
  readonly kind: 'computed' | 'edited';
}

/** 95 % interval of a Gaussian of SD `sd` about the value. */
export function factOf(make: FactMaker, value: number, sd: number, unit: Ucum, method: string, from: readonly string[], more: readonly Reason[] = []): Fact {
  const half = 1.96 * sd;
  return makeFact(value, value - half, value + half, unit, method, from, make.stamp, [...make.doubts, ...more], make.kind);
}

/** A ring that is not (only) the automatic wall: how its facts are named and how far they may be off. */
export interface RingOrigin {
  readonly method: string;
  readonly from: readonly string[];
  spread(heightMm: number, ring: RingMeasures, automatic: RingSpread): RingSpread;
}

const AUTOMATIC: RingOrigin = { method: 'root.ring/1', from: ['scan', 'root.basalPlane'], spread: (_height, _ring, automatic) => automatic };

export function makeLevel(frame: RootFrame, table: WallTable, heightMm: number, doubt: RootUncertainty, make: FactMaker, more: readonly Reason[] = [], bridgedShare = 0, origin = AUTOMATIC): LevelRing {
  const fine = smoothRing(cutRing(table, BASAL, heightMm));
  const m = measureRing(fine);
  const sd = origin.spread(heightMm, m, spreadOfRing(table, m, heightMm, doubt, bridgedShare));
  const { method, from } = origin;
  return {
    heightMm,
    areaMm2: factOf(make, m.areaMm2, sd.areaMm2, 'mm2', method, from, more),
    perimeterMm: factOf(make, m.perimeterMm, sd.perimeterMm, 'mm', method, from, more),
    minDiameterMm: factOf(make, m.minDiameterMm, sd.minDiameterMm, 'mm', method, from, more),
    maxDiameterMm: factOf(make, m.maxDiameterMm, sd.maxDiameterMm, 'mm', method, from, more),
    contourLps: drawContour(frame, fine, heightMm),
  };
}

/** The basal ring: a level with the two derived diameters (checks CT-01, CT-02) and the ratio of its widths (CT-08). */
export function makeBasalRing(frame: RootFrame, table: WallTable, doubt: RootUncertainty, make: FactMaker, more: readonly Reason[], bridgedShare: number, origin = AUTOMATIC): BasalRing {
  const { heightMm: _height, ...ring } = makeLevel(frame, table, 0, doubt, make, more, bridgedShare, origin);
  const fine = smoothRing(cutRing(table, BASAL, 0));
  const m = measureRing(fine);
  const sd = origin.spread(0, m, spreadOfRing(table, m, 0, doubt, bridgedShare));
  const method = origin === AUTOMATIC ? 'root.basalRing/1' : origin.method;
  const areaDiameter = 2 * Math.sqrt(m.areaMm2 / Math.PI);
  const ratio = m.maxDiameterMm / m.minDiameterMm;
  const from = ['root.basalRing.areaMm2'];
  return {
    ...ring,
    areaDiameterMm: factOf(make, areaDiameter, sd.areaMm2 / (Math.PI * areaDiameter / 2), 'mm', method, from, more),
    perimeterDiameterMm: factOf(make, m.perimeterMm / Math.PI, sd.perimeterMm / Math.PI, 'mm', method, ['root.basalRing.perimeterMm'], more),
    ellipticity: factOf(
      make, ratio, ratio * Math.hypot(0.7 * sd.minDiameterMm / m.minDiameterMm, 0.7 * sd.maxDiameterMm / m.maxDiameterMm), '1', method,
      ['root.basalRing.minDiameterMm', 'root.basalRing.maxDiameterMm'], more,
    ),
  };
}
