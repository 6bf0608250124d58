import type { PlannedChoice } from '../../core/case/case-events.ts';
import { readPlannedChoice } from '../../core/case/ask-choice.ts';
import { findHuddleField, HUDDLE_FIELDS, HUDDLE_GROUPS, type HuddleField, type HuddleGroup } from '../../core/room/huddle-fields.ts';
import { nameField, nameKit } from '../../core/room/list-blockers.ts';
import { isInDate, listKit, readHuddleEntry, type KitItem } from '../../core/room/list-kit.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { HUDDLE_PAGE_EN } from '../../core/text/huddle-page-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { addEvents, caseState, shownPlan } from '../state/open-case.ts';
import { chosen } from '../state/rehearsal.ts';
import { may } from '../state/session.ts';
import { Field } from './field.tsx';
import { HuddleEntry } from './huddle-entry.tsx';

const FIELDS: readonly HuddleField[] = HUDDLE_FIELDS;
const listGroup = (group: HuddleGroup): readonly HuddleField[] => FIELDS.filter((f) => f.group === group && f.group !== 'kit');

/** Everything that a huddle decides, group by group, and the boxes that must lie in the room. */
export function HuddleEntries() {
  return (
    <section class="entries" aria-labelledby="entries-name">
      <h3 id="entries-name">{HUDDLE_PAGE_EN.entriesTitle}</h3>
      {HUDDLE_GROUPS.filter((g) => g !== 'kit').map((group) => (
        <fieldset key={group} id={`group-${group}`}>
          <legend>{FREEZE_EN[`group-${group}`]}</legend>
          <div class="grid">
            {listGroup(group).map((f) => <div key={f.id} class={f.id === 'choice.pin' || f.id === 'stop.when' || f.id === 'wire.kind' ? 'two' : ''}>{f.id === 'choice.pin' ? <PinChoice /> : <HuddleEntry field={f} suggested={suggest(f.id)} />}</div>)}
          </div>
        </fieldset>
      ))}
      <Kit />
    </section>
  );
}

const sayPin = (c: PlannedChoice): string => formatText(HUDDLE_PAGE_EN, 'pinOf', { device: c.device, size: c.size, start: formatNumber(c.startMm, 1), bpm: formatNumber(c.paceBpm, 0) });

/** What the plan was made for, or a pinned alternative. */
function PinChoice() {
  const [state, shown] = [caseState.value, shownPlan.value];
  if (!state || !shown) return null;
  const planned = readPlannedChoice(shown.plan);
  const item = state.huddle['choice.pin'] ?? null;
  return (
    <Field label={nameField('choice.pin')}>
      {(p) => (
        <select {...p} disabled={!may('edit')} value={String(item?.value ?? '')} onChange={(e) => void addEvents([{ kind: 'huddle.entered', data: { field: 'choice.pin', value: e.currentTarget.value || null }, supersedes: item?.seq ?? null }])}>
          <option value="">{planned ? sayPin(planned) : HUDDLE_PAGE_EN.pinPlan}</option>
          {state.pins.map((pin) => <option key={pin.pinId} value={pin.pinId}>{sayPin(pin.choice)}{pin.note === '' ? '' : ` (${pin.note})`}</option>)}
        </select>
      )}
    </Field>
  );
}

/** What the plan would have here, in the empty control: seen, not entered. */
function suggest(id: string): string | undefined {
  const now = chosen.value;
  const say = (v: number | null | undefined, digits = 1): string | undefined => (v === null || v === undefined ? undefined : formatText(HUDDLE_PAGE_EN, 'fromPlan', { value: formatNumber(v, digits) }));
  if (!now) return undefined;
  if (id === 'depth.startMm') return say(now.choice?.startMm);
  if (id === 'depth.stopMm') return say(now.landing?.stopMm);
  if (id === 'pacing.ratePerMin') return say(now.choice?.paceBpm, 0);
  return id === 'access.sheathMm' ? say(now.size.sheathOuterMm) : undefined;
}

function Kit() {
  const [state, now] = [caseState.value, chosen.value];
  if (!state) return null;
  const kit = now ? listKit(now.device, now.size, readHuddleEntry(state.huddle)) : [];
  const day = new Date().toISOString().slice(0, 10);
  return (
    <fieldset id="group-kit">
      <legend>{HUDDLE_PAGE_EN.kitTitle}</legend>
      {kit.length === 0 ? <p>{HUDDLE_PAGE_EN.kitNoDevice}</p> : (
        <table class="kit stacked">
          <thead><tr>{[HUDDLE_PAGE_EN.kitItem, HUDDLE_PAGE_EN.kitReady, HUDDLE_PAGE_EN.kitPlace, HUDDLE_PAGE_EN.kitExpires].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
          <tbody>{kit.map((item) => <KitRow key={item.slot} item={item} day={day} />)}</tbody>
        </table>
      )}
    </fieldset>
  );
}

function KitRow({ item, day }: { readonly item: KitItem; readonly day: string }) {
  const name = nameKit(item);
  const field = (part: 'ready' | 'place' | 'expires', label: string) => {
    const about = findHuddleField(`kit.${item.slot}.${part}`);
    return about && <HuddleEntry field={about} label={label} about={name} />;
  };
  const isLacking = item.isNeeded && item.isReady !== true;
  const inDate = isInDate(item, day);
  return (
    <tr>
      <th scope="row">
        {name}{item.mm !== null && <span class="soft">, {formatText(HUDDLE_PAGE_EN, item.slot === 'balloon' ? 'kitMost' : 'kitMm', { mm: formatNumber(item.mm, 1) })}</span>}{' '}
        {isLacking && <span class="tag">{HUDDLE_PAGE_EN.kitNeeded}</span>} {inDate === false && <span class="tag">{formatText(FREEZE_EN, 'kitExpired', { item: item.expires ?? '' })}</span>} {inDate === null && item.isReady === true && <span class="tag">{HUDDLE_PAGE_EN.kitUndated}</span>}
      </th>
      <td>{field('ready', HUDDLE_PAGE_EN.kitReady)}</td>
      <td>{field('place', HUDDLE_PAGE_EN.kitPlace)}</td>
      <td>{field('expires', HUDDLE_PAGE_EN.kitExpires)}</td>
    </tr>
  );
}
