import type { CaseState } from '../case/fold-case.ts';
import { listOpenPoints } from '../case/list-open-points.ts';
import type { Plan } from '../case/plan-types.ts';
import type { ReleaseForecast } from '../release/release-types.ts';
import { fail, succeed, type Result } from '../result.ts';
import { formatText } from '../text/catalogue.ts';
import { FREEZE_EN } from '../text/freeze-en.ts';
import { compareFrozen } from './compare-frozen.ts';
import type { FrozenDocument, RescueCards } from './frozen-types.ts';
import { findAcceptance, listBlockers, listStanding } from './list-blockers.ts';
import { readRoomLimits } from './read-room-limits.ts';
import { putChosen, readChosen } from './read-chosen.ts';

export interface FreezeAsk {
  readonly state: CaseState;
  /** The newest plan of the case, and the hash it is stored under. */
  readonly plan: Plan;
  readonly planSha256: string;
  /** The forecast of the chosen start, size and pacing when it is not the plan's own; null: there is none. */
  readonly forecast: ReleaseForecast | null;
  readonly rescue: RescueCards;
  /** The frozen document that this one amends. */
  readonly before: { readonly sha256: string; readonly document: FrozenDocument } | null;
  /** What the colleague is called. */
  readonly by: string;
  /** Now, ISO 8601 UTC. */
  readonly at: string;
  readonly nameOf: (personId: string) => string;
}
export type FreezeFailureCode = 'freeze-blocked' | 'freeze-unchanged';

/**
 * The frozen document of a case: a pure function of what the team decided, without anything that names the patient. Its
 * canonical JSON is what is hashed, kept and shown.
 * Source    docs/methods/freeze.md
 * Fails     freeze-blocked (the codes that stand, in `evidence`), freeze-unchanged
 */
export function makeFrozen(ask: FreezeAsk): Result<FrozenDocument, FreezeFailureCode> {
  const { state, plan, before, nameOf } = ask;
  const blockers = listBlockers(state, plan, ask.at.slice(0, 10));
  const standing = listStanding(blockers);
  const chosen = readChosen(state, plan);
  if (standing.length > 0 || !chosen?.choice || !state.identityCheck) {
    return fail('freeze-blocked', formatText(FREEZE_EN, 'blocked', { count: standing.length }), FREEZE_EN.blockedNext, { codes: standing.map((b) => b.code).join(' ') });
  }
  const whole: FrozenDocument = {
    format: 'trinadir.frozen/1', caseId: state.caseId, label: state.label, training: state.training || plan.training,
    frozenBy: ask.by, frozenAt: ask.at, amends: before?.sha256 ?? null, differences: [],
    planSha256: ask.planSha256,
    plan: putChosen(plan, chosen, ask.forecast),
    choice: chosen.choice, device: chosen.device,
    huddle: Object.fromEntries(Object.entries(state.huddle).map(([field, entered]) => [field, entered.value])),
    branches: Object.fromEntries(Object.entries(state.branches).map(([branch, { person, item, place }]) => [branch, { person, item, place }])),
    acceptedDoubts: listOpenPoints(plan).flatMap((p) => {
      const accepted = findAcceptance(state, p);
      return accepted ? [{ section: p.section, code: p.code, because: accepted.because, by: nameOf(accepted.by) }] : [];
    }),
    overrides: blockers.flatMap(({ code, override }) => (override ? [{ code, because: override.because, by: nameOf(override.by) }] : [])),
    identityCheckedAt: state.identityCheck.at,
    limits: readRoomLimits(plan.rules ?? null), rescue: ask.rescue,
  };
  const document = JSON.parse(JSON.stringify(whole)) as FrozenDocument; // fields that are absent are absent, not undefined
  if (!before) return succeed(document);
  const differences = compareFrozen(before.document, document);
  // An entry that was changed and changed back leaves no difference, but the room is told that somebody looked again.
  if (differences.length === 0 && state.frozen?.isBehind !== true) return fail('freeze-unchanged', FREEZE_EN.unchanged, FREEZE_EN.unchangedNext);
  return succeed({ ...document, differences });
}
