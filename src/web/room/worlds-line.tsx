import { WORLDS } from '../../core/release/release-types.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { judgeWorlds, type RoomWorlds } from '../../core/room/list-achieved.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';

/** Which friction world this root looks like after what it has shown; in words, bounded. */
export function WorldsLine({ plan, state }: { readonly plan: FrozenDocument; readonly state: RoomState }) {
  const worlds = judgeWorlds(plan, state);
  if (worlds.used.length + worlds.left.length === 0) return null;
  return (
    <>
      <h4>{BOARD_EN.worldsTitle}</h4>
      <p><b>{sayWorlds(worlds)}</b></p>
      {worlds.used.length > 0 && (
        <>
          <dl class="worlds">{WORLDS.map((w) => <div key={w}><dt>{RELEASE_EN[`world-${w}`]}</dt><dd class={`fit-${worlds.fit[w]}`}>{BOARD_EN[`fit-${worlds.fit[w]}`]}</dd></div>)}</dl>
          <p class="soft">{formatText(BOARD_EN, 'worldsNote', { count: worlds.used.length, all: worlds.used.length + worlds.left.length })}</p>
        </>
      )}
      <ul>
        {worlds.used.map(({ attempt, startMm, motion }) => <li key={attempt}>{formatText(BOARD_EN, 'worldsUsed', { number: attempt, start: startMm.toFixed(1), mm: motion.mm === null ? BOARD_EN[`direction-${motion.direction}`] : `${Math.abs(motion.mm).toFixed(1)} mm ${motion.mm >= 0 ? BOARD_EN['direction-up'] : BOARD_EN['direction-down']}` })}</li>)}
        {worlds.left.map(({ attempt, because }) => <li key={attempt} class="soft">{formatText(BOARD_EN, 'worldsLeft', { number: attempt, why: BOARD_EN[because] })}</li>)}
      </ul>
    </>
  );
}

function sayWorlds({ used, fit }: RoomWorlds): string {
  if (used.length === 0) return BOARD_EN.worldsNone;
  const more = WORLDS.find((w) => fit[w] === 'more');
  if (more) return formatText(BOARD_EN, 'worldsMost', { world: RELEASE_EN[`world-${more}`] });
  const less = WORLDS.filter((w) => fit[w] === 'less');
  return less.length === 1 ? formatText(BOARD_EN, 'worldsLeast', { world: RELEASE_EN[`world-${less[0]!}`] }) : BOARD_EN.worldsAlike;
}
