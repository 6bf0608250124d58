import { planEnsemble, type ReleaseQuestion } from './forecast-release.ts';
import { findBand } from './judge-verdict.ts';
import { judgeCell } from './refuse-by-ensemble.ts';
import type { Band, ReleaseTables, ReleaseVerdict, World } from './release-types.ts';
import { keepTables, pickCell, runEnsemblePart, type EnsemblePlan } from './run-ensemble.ts';

/** One changed choice against the base, with the same draws. */
export interface WhatIf {
  readonly releases: number;
  readonly worlds: Readonly<Record<World, {
    readonly answer: ReleaseVerdict;
    readonly movementMm: Band;
    /** Movement with the change minus movement without, sample by sample, 5-50-95 %. */
    readonly changeMm: Band;
    readonly marginChangeN: number;
    /** False: the mean change is smaller than twice its own Monte-Carlo error; "no visible change". */
    readonly isVisible: boolean;
  }>>;
}
export const WHAT_IF_RELEASES = 60;

/** Base of what-ifs: its tables are kept, so that another start, pace or tension costs no new ones. */
export interface WhatIfBase {
  readonly question: ReleaseQuestion;
  readonly tables: readonly ReleaseTables[];
}
export function makeWhatIfBase(question: ReleaseQuestion, releases = WHAT_IF_RELEASES): WhatIfBase {
  return { question, tables: keepTables(planEnsemble({ ...question, sweepMm: [] }), releases) };
}

/**
 * Compares a changed question with its base; frame, wall, wire bias or dilatation changed means new tables. `kept` are
 * those of the changed question where they are at hand already.
 */
export function compareWhatIf(base: WhatIfBase, changed: ReleaseQuestion, kept: readonly ReleaseTables[] = []): WhatIf {
  const n = base.tables.length;
  const from = planSmall(base.question);
  const to = planSmall(changed);
  const isSameContact =
    changed.frame === base.question.frame && changed.basis === base.question.basis && changed.seed === base.question.seed &&
    changed.choice.isPredilated === base.question.choice.isPredilated && changed.choice.annulusShiftMm === base.question.choice.annulusShiftMm &&
    changed.choice.wireBiasMm === base.question.choice.wireBiasMm && changed.choice.wireBiasAzimuthRad === base.question.choice.wireBiasAzimuthRad &&
    changed.spread === base.question.spread;
  const before = runEnsemblePart(from, 0, n, base.tables);
  const after = runEnsemblePart(to, 0, n, kept.length > 0 ? kept : isSameContact ? base.tables : []);
  const compare = (w: number): WhatIf['worlds'][World] => {
    const was = pickCell(before.movementMm, from, 0, w);
    const is = pickCell(after.movementMm, to, 0, w);
    const change = was.map((v, i) => limit(is[i]!) - limit(v));
    const margins = pickCell(after.marginN, to, 0, w).map((v, i) => v - pickCell(before.marginN, from, 0, w)[i]!);
    const mean = change.reduce((s, v) => s + v, 0) / n;
    const sd = Math.sqrt(change.reduce((s, v) => s + (v - mean) ** 2, 0) / Math.max(1, n - 1));
    return {
      answer: judgeCell(to, after, 0, w),
      movementMm: findBand(is),
      changeMm: findBand(change),
      marginChangeN: findBand(margins).mid,
      isVisible: Math.abs(mean) > (2 * sd) / Math.sqrt(n) && Math.abs(mean) > LEAST_SHOWN_MM,
    };
  };
  return { releases: n, worlds: { gripping: compare(0), middle: compare(1), slippery: compare(2) } };
}
const planSmall = (q: ReleaseQuestion): EnsemblePlan => ({ ...planEnsemble({ ...q, sweepMm: [] }), withUndamped: false });
const LEAST_SHOWN_MM = 0.1;
const ZONE_EDGE_MM = 20;
const limit = (mm: number): number => Math.max(-ZONE_EDGE_MM, Math.min(ZONE_EDGE_MM, mm));
