import type { HuddleBranch } from '../../core/case/case-events.ts';
import { HUDDLE_BRANCHES } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { HUDDLE_FIELDS, HUDDLE_GROUPS, type HuddleField } from '../../core/room/huddle-fields.ts';
import { listBlockers, nameField, nameKit } from '../../core/room/list-blockers.ts';
import { isInDate, listKit, readHuddleEntry, type KitItem } from '../../core/room/list-kit.ts';
import { readChosen } from '../../core/room/read-chosen.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { HUDDLE_EN } from '../../core/text/huddle-en.ts';
import { drawDoubtTag } from './draw-fact.ts';
import { escapeText } from './escape-text.ts';
import { formatShortCode } from './format-code.ts';
import { formatNumber } from './format-number.ts';

type Entered = string | number | boolean;
/** What a huddle said and did, for its sheet. People by name, moments in UTC. */
export interface HuddleSaid {
  /** Today, ISO 8601: what is out of date is measured against it. */
  readonly day: string;
  readonly frozen: { readonly sha256: string; readonly by: string; readonly at: string; readonly isBehind: boolean } | null;
  readonly identity: { readonly verdict: 'same' | 'differs' | 'not comparable'; readonly by: string; readonly at: string } | null;
  readonly entries: Readonly<Record<string, Entered>>;
  readonly kit: readonly KitItem[];
  readonly branches: Readonly<Partial<Record<HuddleBranch, { readonly person: string; readonly item: string; readonly place: string }>>>;
  /** Blockers that stand, and those that somebody took on themselves. */
  readonly standing: readonly string[];
  readonly overridden: readonly { readonly text: string; readonly because: string; readonly by: string }[];
}

/** From the state of a case and its newest plan. Fails: never. */
export function readHuddleSaid(state: CaseState, plan: Plan, day: string, nameOf: (personId: string) => string): HuddleSaid {
  const blockers = listBlockers(state, plan, day);
  const chosen = readChosen(state, plan);
  const { frozen, identityCheck } = state;
  return {
    day,
    frozen: frozen && { sha256: frozen.frozenSha256, by: nameOf(frozen.by), at: frozen.at, isBehind: frozen.isBehind },
    identity: identityCheck && { verdict: identityCheck.verdict, by: nameOf(identityCheck.by), at: identityCheck.at },
    entries: Object.fromEntries(Object.entries(state.huddle).map(([id, item]) => [id, item.value])),
    kit: chosen ? listKit(chosen.device, chosen.size, readHuddleEntry(state.huddle)) : [],
    branches: Object.fromEntries(Object.entries(state.branches).map(([b, { person, item, place }]) => [b, { person, item, place }])),
    standing: blockers.filter((b) => b.isHard || b.override === null).map((b) => b.text),
    overridden: blockers.flatMap(({ text, override }) => (override ? [{ text, because: override.because, by: nameOf(override.by) }] : [])),
  };
}

export type Row = readonly string[];
/** Cells are HTML already. The first of a row is its head. */
export function drawTable(caption: string, head: Row, rows: readonly Row[], look: 'plain' | 'large' = 'plain'): string {
  if (rows.length === 0) return '';
  const body = rows.map(([first, ...cells]) => `<tr><th scope="row">${first}</th>${cells.map((c) => `<td>${c}</td>`).join('')}</tr>`).join('');
  return `<div class="scroll" tabindex="0" role="region" aria-label="${escapeText(caption)}"><table class="${look}"><caption>${escapeText(caption)}</caption><thead><tr>${head.map((h) => `<th scope="col">${escapeText(h)}</th>`).join('')}</tr></thead><tbody>${body}</tbody></table></div>`;
}

const sayAt = (iso: string): string => `${iso.slice(0, 10)} ${iso.slice(11, 16)} UTC`;
/** The line that says which plan this is, and whether the room has it. */
export function describeFrozen(said: HuddleSaid | undefined): string {
  const frozen = said?.frozen ?? null;
  if (!frozen) return HUDDLE_EN.preview;
  return formatText(HUDDLE_EN, frozen.isBehind ? 'frozenBehind' : 'frozen', { code: formatShortCode(frozen.sha256), by: frozen.by, at: sayAt(frozen.at) });
}
export const describeIdentity = ({ identity }: HuddleSaid): string =>
  identity === null ? HUDDLE_EN.identityNone : formatText(HUDDLE_EN, `identity-${identity.verdict}`, { by: identity.by, at: sayAt(identity.at) });

function sayEntry(field: HuddleField, value: Entered): string {
  if (typeof value === 'boolean') return value ? HUDDLE_EN.yes : HUDDLE_EN.no;
  if (typeof value === 'number') return `${formatNumber(value, field.kind === 'number' && field.step < 1 ? 1 : 0)}${field.kind === 'number' ? ` ${field.unit}` : ''}`;
  return field.kind === 'choice' ? (FREEZE_EN[`choice-${value}` as keyof typeof FREEZE_EN] ?? value) : value;
}

/** What was decided, group by group; what is needed and lacks is said in its place. */
export function drawDecided({ entries }: HuddleSaid): string {
  const fields: readonly HuddleField[] = HUDDLE_FIELDS;
  const rows = HUDDLE_GROUPS.filter((g) => g !== 'kit' && g !== 'valve').flatMap((group) => fields.filter((f) => f.group === group).flatMap((f): Row[] => {
    const value = entries[f.id];
    if (value === undefined && !f.isNeeded) return [];
    return [[escapeText(nameField(f.id)), value === undefined ? drawDoubtTag(HUDDLE_EN.notEntered) : escapeText(sayEntry(f, value))]];
  }));
  return drawTable(HUDDLE_EN.decidedTitle, [HUDDLE_EN.columnItem, HUDDLE_EN.columnDecided], rows);
}

export function drawKit({ kit, day }: HuddleSaid): string {
  const shown = kit.filter((k) => k.isNeeded || k.isReady !== null || k.place !== null);
  return drawTable(HUDDLE_EN.kitTitle, [HUDDLE_EN.columnItem, HUDDLE_EN.columnReady, HUDDLE_EN.columnPlace, HUDDLE_EN.columnExpires], shown.map((k): Row => [
    escapeText(`${nameKit(k)}${k.mm === null ? '' : `, ${formatNumber(k.mm, 1)} mm`}`),
    k.isReady === true ? HUDDLE_EN.yes : drawDoubtTag(k.isReady === false ? HUDDLE_EN.no : HUDDLE_EN.notEntered), escapeText(k.place ?? ''),
    k.expires === null ? (k.isReady === true ? drawDoubtTag(HUDDLE_EN.notEntered) : '') : isInDate(k, day) ? escapeText(k.expires) : drawDoubtTag(formatText(HUDDLE_EN, 'outOfDate', { day: k.expires })),
  ]));
}

export function drawBranches({ branches }: HuddleSaid): string {
  return drawTable(HUDDLE_EN.branchesTitle, [HUDDLE_EN.columnWhen, HUDDLE_EN.columnPerson, HUDDLE_EN.columnTakes, HUDDLE_EN.columnPlace], HUDDLE_BRANCHES.map((b): Row => {
    const plan = branches[b];
    const cells = plan ? [plan.person, plan.item, plan.place].map(escapeText) : [drawDoubtTag(HUDDLE_EN.notEntered), '', ''];
    return [escapeText(FREEZE_EN[`branch-${b}`]), ...cells];
  }));
}

export function drawOverrides({ overridden }: HuddleSaid): string {
  return overridden.map((o) => `<div class="note"><p>${escapeText(o.text)}</p><p><b>${escapeText(formatText(HUDDLE_EN, 'overriddenBy', o))}</b></p></div>`).join('');
}
