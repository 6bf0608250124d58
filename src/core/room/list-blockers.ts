import { HUDDLE_BRANCHES } from '../case/case-events.ts';
import type { CaseState } from '../case/fold-case.ts';
import { listOpenPoints, type OpenPoint } from '../case/list-open-points.ts';
import type { Plan } from '../case/plan-types.ts';
import { formatText } from '../text/catalogue.ts';
import { FREEZE_EN } from '../text/freeze-en.ts';
import { HUDDLE_FIELDS } from './huddle-fields.ts';
import { isInDate, listKit, readHuddleEntry, type KitItem } from './list-kit.ts';
import { readChosen, type Chosen } from './read-chosen.ts';

/** One thing that stands between the team and a frozen plan. */
export interface Blocker {
  readonly code: string;
  /** True: no person can take it on themselves. */
  readonly isHard: boolean;
  readonly text: string;
  readonly next: string;
  /** Who took it on themselves, for the case as it is now; null: nobody. */
  readonly override: { readonly because: string; readonly by: string; readonly at: string } | null;
}

/**
 * Everything that stands between a case and its frozen plan, in a fixed order: identity, plan, doubts, choice, entries,
 * kit, branches. An override counts for the state of the case that its giver saw; any later change voids it.
 * `plan` is the newest plan of the case; `day` today, ISO 8601.
 * Fails     never
 */
export function listBlockers(state: CaseState, plan: Plan | null, day: string): readonly Blocker[] {
  const hard = (code: string, text: string, next: string): Blocker => ({ code, isHard: true, text, next, override: null });
  const soft = (code: string, text: string, next: string): Blocker => ({ code, isHard: false, text, next, override: findOverride(state, code) });
  const found: Blocker[] = [];

  const verdict = state.identityCheck?.verdict ?? null;
  if (verdict === null) found.push(hard('identity-unchecked', FREEZE_EN.identityUnchecked, FREEZE_EN.identityUncheckedNext));
  if (verdict === 'differs') found.push(hard('identity-differs', FREEZE_EN.identityDiffers, FREEZE_EN.identityDiffersNext));
  if (verdict === 'not comparable') found.push(soft('identity-not-comparable', FREEZE_EN.identityOpen, FREEZE_EN.identityOpenNext));
  if (state.scan?.identity.verdict === 'differs') found.push(soft('scan-identity-differs', FREEZE_EN.scanIdentity, FREEZE_EN.scanIdentityNext));

  if (!plan || !state.plan) return [...found, hard('plan-missing', FREEZE_EN.planMissing, FREEZE_EN.planMissingNext)];
  if (state.plan.isStale) found.push(hard('plan-stale', FREEZE_EN.planStale, FREEZE_EN.planStaleNext));
  if (plan.training && !state.training) found.push(soft('training-sizes', FREEZE_EN.trainingSizes, FREEZE_EN.trainingSizesNext));
  for (const p of listOpenPoints(plan)) {
    if (!findAcceptance(state, p)) found.push(hard(`doubt-${p.section}-${p.code}`, formatText(FREEZE_EN, 'doubtOne', { text: p.text }), FREEZE_EN.doubtNext));
  }

  const chosen = readChosen(state, plan);
  if (!chosen) found.push(hard('device-missing', FREEZE_EN.noDevice, FREEZE_EN.noDeviceNext));
  else found.push(...listOfChoice(state, chosen, { hard, soft }));

  for (const field of HUDDLE_FIELDS) {
    if (field.isNeeded && state.huddle[field.id] === undefined) found.push(soft(`entry-${field.id}`, formatText(FREEZE_EN, 'missingField', { field: nameField(field.id) }), FREEZE_EN.missingFieldNext));
  }
  if (state.huddle['consent.given']?.value === false) found.push(soft('consent-not-given', FREEZE_EN.noConsent, FREEZE_EN.noConsentNext));
  if (state.huddle['rescue.surgery']?.value === 'agreed' && !state.huddle['team.surgeon']) found.push(soft('surgeon-unnamed', FREEZE_EN.surgeonUnnamed, FREEZE_EN.surgeonUnnamedNext));
  if (chosen) found.push(...listOfKit(listKit(chosen.device, chosen.size, readHuddleEntry(state.huddle)), day, soft));
  for (const branch of HUDDLE_BRANCHES) {
    if (!state.branches[branch]) found.push(soft(`branch-${branch}`, formatText(FREEZE_EN, 'branchOpen', { branch: FREEZE_EN[`branch-${branch}`].toLowerCase() }), FREEZE_EN.branchOpenNext));
  }
  return found;
}

/** What still stands: hard ones, and soft ones that nobody took on themselves. */
export const listStanding = (blockers: readonly Blocker[]): readonly Blocker[] => blockers.filter((b) => b.isHard || b.override === null);

type Make = Readonly<Record<'hard' | 'soft', (code: string, text: string, next: string) => Blocker>>;
function listOfChoice(state: CaseState, { choice, landing, isForecast }: Chosen, { hard, soft }: Make): readonly Blocker[] {
  const found: Blocker[] = [];
  if (!choice) found.push(hard('start-missing', FREEZE_EN.noStart, FREEZE_EN.noStartNext));
  if (!landing) found.push(soft('landing-missing', FREEZE_EN.landingMissing, FREEZE_EN.landingMissingNext));
  if (landing?.empty) found.push(soft('landing-empty', FREEZE_EN.landingEmpty, FREEZE_EN.landingEmptyNext));
  const [aim, stop] = [state.huddle['depth.aimMm']?.value, state.huddle['depth.stopMm']?.value];
  const [low, high] = [landing?.aimLowMm ?? null, landing?.aimHighMm ?? null];
  if (typeof aim === 'number' && low !== null && high !== null && !(aim >= low && aim <= high)) {
    found.push(soft('aim-outside', formatText(FREEZE_EN, 'aimOutside', { mm: aim.toFixed(1), low: low.toFixed(1), high: high.toFixed(1) }), FREEZE_EN.depthNext));
  }
  const most = Math.min(...(landing?.limits ?? []).map((l) => l.highMm ?? Infinity), Infinity);
  if (typeof stop === 'number' && !(stop <= most)) found.push(soft('stop-outside', formatText(FREEZE_EN, 'stopOutside', { mm: stop.toFixed(1), most: most.toFixed(1) }), FREEZE_EN.depthNext));
  if (choice && !isForecast) found.push(soft('choice-not-forecast', FREEZE_EN.notForecast, FREEZE_EN.notForecastNext));
  return found;
}

function listOfKit(kit: readonly KitItem[], day: string, soft: Make['soft']): readonly Blocker[] {
  return kit.flatMap((item): Blocker[] => {
    const inDate = isInDate(item, day);
    if (inDate === false && (item.isNeeded || item.isReady === true)) return [soft(`kit-expired-${item.slot}`, formatText(FREEZE_EN, 'kitExpired', { item: nameKit(item) }), FREEZE_EN.kitExpiredNext)];
    // The room would not be offered a box whose date nobody read (second-valve.ts): it is said here, while another can still be brought.
    if (inDate === null && item.isReady === true) return [soft(`kit-undated-${item.slot}`, formatText(FREEZE_EN, 'kitUndated', { item: nameKit(item) }), FREEZE_EN.kitUndatedNext)];
    return item.isNeeded && item.isReady !== true ? [soft(`kit-${item.slot}`, formatText(FREEZE_EN, 'kitMissing', { item: nameKit(item) }), FREEZE_EN.kitMissingNext)] : [];
  });
}

export const nameField = (id: string): string => (FREEZE_EN as Readonly<Record<string, string>>)[id] ?? id;
/** "the same size again (device 27)". */
export function nameKit({ slot, valve }: Pick<KitItem, 'slot' | 'valve'>): string {
  return valve ? `${FREEZE_EN[`slot-${slot}`]} (${formatText(FREEZE_EN, 'valveOf', valve)})` : FREEZE_EN[`slot-${slot}`];
}

/** Who accepted an open point of the newest plan; one accepted before that plan was made does not count. */
export function findAcceptance(state: CaseState, point: Pick<OpenPoint, 'section' | 'code'>): CaseState['acceptedDoubts'][number] | null {
  return state.acceptedDoubts.find((a) => a.code === point.code && a.section === point.section && a.seq > (state.plan?.seq ?? 0)) ?? null;
}

function findOverride(state: CaseState, code: string): Blocker['override'] {
  const found = state.overrides.find((o) => o.code === code && o.seq > state.freezeInputSeq);
  return found ? { because: found.because, by: found.by, at: found.at } : null;
}
