import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { listBailOut, sayBox } from '../../core/room/list-bail-out.ts';
import { COMMON_PRACTICE } from '../../core/room/rescue-cards.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import { listSecondValves } from '../../core/room/second-valve.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { frozen, logEntry, readServerNow, room } from '../state/room-log.ts';
import './board.css';
import { formatClock } from './times.ts';

/** The hospital's rescue cards, the second valve, and the ways out that the team agreed on. Part of In the room. */
export function RescuePanel() {
  const plan = frozen.value;
  const state = room.value;
  return (
    <section class="rescue-panel" aria-labelledby="rescue-name">
      <h3 id="rescue-name">{BOARD_EN.rescueTitle}</h3>
      {plan ? (
        <>
          <p>{plan.rescue.isDefault ? <span class="tag">{COMMON_PRACTICE}</span> : formatText(BOARD_EN, 'rescueSigned', { by: plan.rescue.signedBy, at: plan.rescue.signedAt.slice(0, 10) })} <span class="soft">{BOARD_EN.rescueSay}</span></p>
          <Cards plan={plan} state={state} />
          <SecondValve plan={plan} state={state} />
          <BailOut plan={plan} state={state} />
        </>
      ) : <p class="soft">{BOARD_EN.noFrozen}</p>}
    </section>
  );
}
interface Shown {
  readonly plan: FrozenDocument;
  readonly state: RoomState;
}
type CardProps = { readonly card: FrozenDocument['rescue']['cards'][number]; readonly open: RoomState['rescue'][number] };

function Cards({ plan, state }: Shown) {
  const opened = new Map(state.rescue.map((r) => [r.card, r] as const));
  const closed = plan.rescue.cards.filter((c) => !opened.has(c.id));
  return (
    <>
      {[...state.rescue].reverse().flatMap((open) => {
        const card = plan.rescue.cards.find((c) => c.id === open.card);
        return card ? [<OpenCard key={card.id} card={card} open={open} />] : [];
      })}
      <ul class="card-list">
        {closed.map((c) => <li key={c.id}><button type="button" class="tap" onClick={() => logEntry({ is: 'rescue', card: c.id, did: 'opened', line: null })}>{c.title}</button></li>)}
      </ul>
    </>
  );
}

function OpenCard({ card, open }: CardProps) {
  const ticked = new Map(open.ticked.map((t) => [t.line, t.at] as const));
  const tick = (line: number): void => void logEntry({ is: 'rescue', card: card.id, did: ticked.has(line) ? 'unticked' : 'ticked', line });
  return (
    <article class="rescue-card" aria-label={card.title}>
      <header>
        <h4>{card.title}</h4>
        <p><b>{formatText(BOARD_EN, 'cardLines', { done: card.lines.filter((_, i) => ticked.has(i)).length, all: card.lines.length })}</b>, {formatText(BOARD_EN, 'openSince', { at: formatClock(open.openedAt) })}</p>
        <button type="button" class="tap" onClick={() => logEntry({ is: 'rescue', card: card.id, did: 'closed', line: null })}>{BOARD_EN.closeCard}</button>
      </header>
      <ol>
        {card.lines.map((text, i) => (
          <li key={text} class={ticked.has(i) ? 'done' : ''}>
            <label><input type="checkbox" checked={ticked.has(i)} onChange={() => tick(i)} /> <span>{text}</span>{ticked.has(i) && <> <span class="soft">{formatText(BOARD_EN, 'tickedAt', { at: formatClock(ticked.get(i)!) })}</span></>}</label>
          </li>
        ))}
      </ol>
    </article>
  );
}

function SecondValve({ plan, state }: Shown) {
  const card = listSecondValves(plan, state, readUtcDay());
  return (
    <>
      <h4>{BOARD_EN.secondTitle}: <b>{BOARD_EN[`second-${card.state}`]}</b></h4>
      <ul class="boxes">
        {card.valves.map((v) => (
          <li key={v.slot} class={v.state === 'offered' ? '' : 'soft'}>
            <span><b>{v.valve?.size}</b> {BOARD_EN[`slot-${v.slot as 'spare' | 'smaller' | 'larger'}`]}: {sayBox(v)}{v.state === 'offered' && v.expires !== null && <>, {formatText(BOARD_EN, 'secondExpires', { expires: v.expires })}</>}
            {v.room?.isReady && <>, {formatText(BOARD_EN, 'secondSaidReady', { at: formatClock(v.room.at) })}</>}</span>
            <button type="button" class="tap" onClick={() => logEntry({ is: 'kit', item: v.slot, isReady: !(v.room?.isReady ?? false) })} aria-label={`${v.valve?.size} ${v.room?.isReady ? BOARD_EN.sayNotReady : BOARD_EN.sayReady}`}>{v.room?.isReady ? BOARD_EN.sayNotReady : BOARD_EN.sayReady}</button>
          </li>
        ))}
      </ul>
    </>
  );
}

function BailOut({ plan, state }: Shown) {
  return (
    <>
      <h4>{BOARD_EN.bailTitle}</h4>
      <dl class="bail-out">
        {listBailOut(plan, state, readUtcDay()).map((l) => (
          <div key={l.id}>
            <dt>{l.label}</dt>
            <dd>{l.text ?? <span class="tag">{BOARD_EN.notAgreed}</span>}{l.isUnverified && <> <span class="tag">{BOARD_EN.unverified}</span></>}</dd>
          </div>
        ))}
      </dl>
    </>
  );
}

/** The day by which freeze, wall and sheet judge what a box is good until (docs/methods/freeze.md): UTC, on the server's clock. */
const readUtcDay = (): string => new Date(readServerNow()).toISOString().slice(0, 10);
