import type { Plan } from '../../core/case/plan-types.ts';
import { CUSPS, type ByCusp, type RingFacts } from '../../core/root/root-types.ts';
import type { FACT_MEANINGS_EN } from '../../core/text/facts-en.ts';
import { FACT_NAMES_EN } from '../../core/text/facts-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { formatHeight } from './format-number.ts';

export type FactKey = keyof typeof FACT_NAMES_EN & keyof typeof FACT_MEANINGS_EN;
export interface NamedFact {
  /** Path in plan.json. */
  readonly path: string;
  readonly key: FactKey;
  readonly fact: Fact;
  /** What tells facts of one name apart: the cusp or the height. */
  readonly of?: string;
}
export const HEIGHT_KEYS: readonly FactKey[] = ['bulgeHeight', 'leftOstium', 'rightOstium', 'junctionHeight'];

/** Every fact of a plan with its path and name, in the order of the page. */
export function listPlanFacts(plan: Plan): readonly NamedFact[] {
  const facts: NamedFact[] = [
    { path: 'scan.contrastHu', key: 'contrast', fact: plan.scan.contrastHu },
    { path: 'scan.noiseHu', key: 'noise', fact: plan.scan.noiseHu },
  ];
  const { root } = plan;
  if (!root) return facts;
  const put = (path: string, key: FactKey, fact: Fact | undefined, of?: string): void => {
    if (fact) facts.push(of === undefined ? { path, key, fact } : { path, key, fact, of });
  };
  const putByCusp = (path: string, key: FactKey, byCusp: ByCusp<Fact>): void => {
    for (const cusp of CUSPS) put(`${path}.${cusp}`, key, byCusp[cusp], cusp);
  };
  const putRing = (path: string, ring: RingFacts, of?: string): void => {
    put(`${path}.areaMm2`, 'ringArea', ring.areaMm2, of);
    put(`${path}.perimeterMm`, 'ringPerimeter', ring.perimeterMm, of);
    put(`${path}.minDiameterMm`, 'ringMin', ring.minDiameterMm, of);
    put(`${path}.maxDiameterMm`, 'ringMax', ring.maxDiameterMm, of);
  };
  const ring = root.basalRing;
  put('root.basalRing.perimeterDiameterMm', 'ringPerimeterDiameter', ring.perimeterDiameterMm);
  put('root.basalRing.areaDiameterMm', 'ringAreaDiameter', ring.areaDiameterMm);
  putRing('root.basalRing', ring);
  put('root.basalRing.ellipticity', 'ringEllipticity', ring.ellipticity);
  put('root.angulationDeg', 'angulation', root.angulationDeg);
  putRing('root.outflowTract', root.outflowTract, formatHeight(root.outflowTract.heightMm));
  put('root.septum.bulgeMm', 'bulge', root.septum.bulgeMm);
  put('root.septum.bulgeHeightMm', 'bulgeHeight', root.septum.bulgeHeightMm);
  put('root.septum.angleToBasalPlaneDeg', 'septumAngle', root.septum.angleToBasalPlaneDeg);
  put('root.membranousSeptum.lengthMm', 'membrane', root.membranousSeptum.lengthMm);
  putByCusp('root.sinuses.widthMm', 'sinusWidth', root.sinuses.widthMm);
  putByCusp('root.sinuses.heightMm', 'sinusHeight', root.sinuses.heightMm);
  put('root.sinotubularJunction.heightMm', 'junctionHeight', root.sinotubularJunction.heightMm);
  put('root.sinotubularJunction.diameterMm', 'junctionDiameter', root.sinotubularJunction.diameterMm);
  put('root.ascendingAorta.diameterMm', 'ascendingDiameter', root.ascendingAorta.diameterMm);
  put('root.coronaries.left.heightMm', 'leftOstium', root.coronaries.left?.heightMm);
  put('root.coronaries.right.heightMm', 'rightOstium', root.coronaries.right?.heightMm);
  for (const cusp of CUSPS) put(`root.leaflets.${cusp}.lengthMm`, 'leafletLength', root.leaflets[cusp]?.lengthMm, cusp);
  const { calcium } = root;
  if (calcium) {
    put('root.calcium.volumeMm3', 'calciumVolume', calcium.volumeMm3);
    putByCusp('root.calcium.byCuspMm3', 'calciumByCusp', calcium.byCuspMm3);
    put('root.calcium.outflowMm3', 'calciumOutflow', calcium.outflowMm3);
    putByCusp('root.calcium.outflowByCuspMm3', 'calciumOutflowByCusp', calcium.outflowByCuspMm3);
  }
  put('root.calciumScore.score', 'calciumScore', root.calciumScore?.score);
  put('root.calciumScore.volumeMm3', 'calciumScoreVolume', root.calciumScore?.volumeMm3);
  root.levels.forEach((level, i) => putRing(`root.levels.${i}`, level, formatHeight(level.heightMm)));
  return facts;
}

/** "Width, R": the name of a fact with what tells it apart. */
export function nameFact(named: { readonly key: FactKey; readonly of?: string }): string {
  const name = FACT_NAMES_EN[named.key];
  return named.of === undefined ? name : `${name}, ${named.of}`;
}
