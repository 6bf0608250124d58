import { dot, sub } from '../math/vec3.ts';
import { makeFact, type Fact, type FactStamp } from '../units/fact.ts';
import type { CuspSectors } from './calcium-sectors.ts';
import type { RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type CalciumDeposit, type Cusp, type RootCalcium } from './root-types.ts';

/** Part of what changes sides that stays open: deposits are no balls. */
const MOVED_SD_RATIO = 0.3;

/** Share of a ball's volume below a plane whose height over its middle is given. */
export function shareBelow(planeOverMiddleMm: number, radiusMm: number): number {
  const x = Math.max(-1, Math.min(1, planeOverMiddleMm / radiusMm));
  return (2 + 3 * x - x ** 3) / 4;
}

interface Split {
  readonly aboveMm3: ByCusp<number>;
  readonly belowMm3: ByCusp<number>;
}

/** Deposits as balls of their volume, each wholly in the sector of its middle, parted by the plane. */
function splitDeposits(deposits: readonly CalciumDeposit[]): Split {
  const aboveMm3: Record<Cusp, number> = { R: 0, L: 0, N: 0 };
  const belowMm3: Record<Cusp, number> = { R: 0, L: 0, N: 0 };
  for (const d of deposits) {
    const share = shareBelow(-d.heightMm, Math.cbrt((3 * d.volumeMm3) / (4 * Math.PI)));
    aboveMm3[d.cusp] += (1 - share) * d.volumeMm3;
    belowMm3[d.cusp] += share * d.volumeMm3;
  }
  return { aboveMm3, belowMm3 };
}

/**
 * Calcium of the last survey under a moved plane, until the picture was looked at again: deposits stay in the patient,
 * their heights and cusps follow; volumes by place change by what crosses the plane or a line between cusps.
 * Source    docs/methods/moved-marks.md, "Calcium"
 */
export function recutCalcium(calcium: RootCalcium, frame: RootFrame, sectors: CuspSectors, stamp: FactStamp): RootCalcium {
  const deposits = calcium.deposits.map((d): CalciumDeposit => {
    const off = sub(d.centreLps, frame.originLps);
    const heightMm = dot(off, frame.normalLps);
    return { ...d, heightMm, cusp: sectors.findCusp(dot(off, frame.uLps), dot(off, frame.vLps), heightMm) };
  });
  const [was, is] = [splitDeposits(calcium.deposits), splitDeposits(deposits)];
  const move = (fact: Fact, byMm3: number): Fact => {
    if (fact.value === null || byMm3 === 0) return fact;
    const value = Math.max(0, fact.value + byMm3);
    const wider = 1.96 * MOVED_SD_RATIO * Math.abs(byMm3);
    const half = (side: number): number => Math.hypot(side, wider);
    return makeFact(value, Math.max(0, value - half(fact.value - fact.low!)), value + half(fact.high! - fact.value), fact.unit, fact.source.method, fact.source.from, stamp, fact.reasons, 'edited');
  };
  const byCusp = (facts: ByCusp<Fact>, part: keyof Split): ByCusp<Fact> => {
    const one = (c: Cusp): Fact => move(facts[c], is[part][c] - was[part][c]);
    return { R: one('R'), L: one('L'), N: one('N') };
  };
  const sum = (s: Split): number => CUSPS.reduce((t, c) => t + s.belowMm3[c], 0);
  return {
    ...calcium, deposits, byCuspMm3: byCusp(calcium.byCuspMm3, 'aboveMm3'), outflowByCuspMm3: byCusp(calcium.outflowByCuspMm3, 'belowMm3'),
    outflowMm3: move(calcium.outflowMm3, sum(is) - sum(was)),
  };
}
