import type { PlannedChoice } from './case-events.ts';
import type { Plan } from './plan-types.ts';
import { succeed, type Result } from '../result.ts';
import type { FactStamp } from '../units/fact.ts';
import { askFrame, putChoice, readPlannedChoice, type AskChoiceFailureCode } from './ask-choice.ts';
import { concludeForecast, listBlockers, planEnsemble, refuseForecast, type ReleaseQuestion } from '../release/forecast-release.ts';
import { closeWhatIf } from '../release/list-what-ifs.ts';
import type { ReleaseForecast, ReleaseTables, WhatIfWorld, World } from '../release/release-types.ts';
import { keepTables, runEnsemblePart } from '../release/run-ensemble.ts';
import { compareWhatIf, WHAT_IF_RELEASES } from '../release/what-if.ts';

/** The forecast of one choice on the Release plan page. */
export interface PlannedForecast {
  readonly choice: PlannedChoice;
  /** What the plan itself forecast: what `change` compares with; null where it forecast nothing. */
  readonly planned: PlannedChoice | null;
  readonly forecast: ReleaseForecast;
  readonly releases: number;
  /** False: the first draws only; asked again a second later the answer stands on all of them. */
  readonly isFull: boolean;
  /** Against `planned`, draw by draw; null where either of the two is refused. */
  readonly change: Readonly<Record<World, WhatIfWorld>> | null;
}

/** Draws of the first answer about a frame, dilatation or wire that was not looked at yet. */
export const QUICK_RELEASES = 20;
/** Contacts (frame, dilatation, wire) whose tables are kept; some 3 MB each with dense rings. */
const MOST_KEPT = 8;
const MOST_PLANS = 4;

interface Kept {
  /** With the choice that the tables depend on. */
  readonly question: ReleaseQuestion;
  readonly tables: ReleaseTables[];
}
interface KeptPlan {
  readonly plan: Plan;
  readonly frames: Map<string, Result<ReleaseQuestion, AskChoiceFailureCode>>;
}

/**
 * Answers what-ifs of plans and keeps what they share: frame and wall by size, tables of the draws by contact. Another
 * start, pace or tension then costs the releases alone. A class because it guards these caches; an answer of so many
 * releases is the same whatever was kept.
 * Source    docs/methods/release.md, "What-if"
 */
export class WhatIfKeeper {
  private readonly plans = new Map<string, KeptPlan>();
  private readonly kept = new Map<string, Kept>();

  knows(planSha256: string): boolean {
    return this.plans.has(planSha256);
  }

  /** Fails: as askFrame. */
  answer(planSha256: string, readPlan: () => Plan, choice: PlannedChoice, stamp: FactStamp): Result<PlannedForecast, AskChoiceFailureCode> {
    const kept = this.plans.get(planSha256) ?? { plan: readPlan(), frames: new Map() };
    touch(this.plans, planSha256, kept, MOST_PLANS);
    const asked = this.askChoice(kept, choice, stamp);
    if (!asked.ok) return asked;
    const planned = readPlannedChoice(kept.plan);
    const blockers = listBlockers(asked.value);
    if (blockers.length > 0) return succeed({ choice, planned, forecast: refuseForecast(asked.value, blockers), releases: 0, isFull: true, change: null });
    const tables = this.tablesOf(planSha256, asked.value, choice, QUICK_RELEASES);
    const n = tables.length;
    const question = { ...asked.value, releases: n };
    const forecast = concludeForecast(question, runEnsemblePart(planEnsemble(question), 0, n, tables));
    return succeed({ choice, planned, forecast, releases: n, isFull: n >= WHAT_IF_RELEASES, change: planned && this.compare(planSha256, kept, planned, question, tables, stamp) });
  }

  /** Draws more releases of what was asked last, then of what is likely to be asked next. False: nothing is left to do. */
  refine(draws: number): boolean {
    for (const [key, entry] of [...this.kept].reverse()) {
      const missing = WHAT_IF_RELEASES - entry.tables.length;
      if (missing <= 0) continue;
      this.kept.set(key, { ...entry, tables: [...entry.tables, ...keepTables(planEnsemble(entry.question), Math.min(draws, missing), entry.tables.length)] });
      return true;
    }
    return false;
  }

  private askChoice(kept: KeptPlan, choice: PlannedChoice, stamp: FactStamp): Result<ReleaseQuestion, AskChoiceFailureCode> {
    const name = JSON.stringify([choice.device, choice.size]);
    const frame = kept.frames.get(name) ?? askFrame(kept.plan, choice.device, choice.size, stamp);
    kept.frames.set(name, frame);
    return frame.ok ? succeed({ ...putChoice(frame.value, choice, WHAT_IF_RELEASES), stamp }) : frame;
  }

  private tablesOf(planSha256: string, question: ReleaseQuestion, choice: PlannedChoice, least: number): readonly ReleaseTables[] {
    const key = JSON.stringify([planSha256, choice.device, choice.size, choice.isPredilated, choice.wireBiasMm]);
    const known = this.kept.get(key);
    const count = known?.tables.length ?? 0;
    const tables = count >= least ? known!.tables : [...(known?.tables ?? []), ...keepTables(planEnsemble(question), least - count, count)];
    touch(this.kept, key, { question: known?.question ?? question, tables }, MOST_KEPT);
    return tables;
  }

  private compare(planSha256: string, kept: KeptPlan, planned: PlannedChoice, question: ReleaseQuestion, tables: readonly ReleaseTables[], stamp: FactStamp): PlannedForecast['change'] {
    const base = this.askChoice(kept, planned, stamp);
    if (!base.ok || listBlockers(base.value).length > 0) return null;
    const n = tables.length;
    const baseTables = this.tablesOf(planSha256, base.value, planned, n).slice(0, n);
    const { gripping, middle, slippery } = compareWhatIf({ question: base.value, tables: baseTables }, question, tables).worlds;
    return { gripping: closeWhatIf(gripping), middle: closeWhatIf(middle), slippery: closeWhatIf(slippery) };
  }
}

/** Puts an entry last and drops the oldest beyond `most`. */
function touch<T>(map: Map<string, T>, key: string, value: T, most: number): void {
  map.delete(key);
  map.set(key, value);
  for (const old of map.keys()) {
    if (map.size <= most) break;
    map.delete(old);
  }
}
