import { signal } from '@preact/signals';
import { WALL_CARDS, type WallCardName } from '../../core/room/room-types.ts';
import type { WallBoard, WallSettings } from '../../core/room/wall-types.ts';
import { showNow } from './wall-time.ts';
import { readMmPerPx, setMmPerPx, teachPedal, wallScreen, type PedalUse } from './wall-screen.ts';

/** The card that a pedal asked for here; the board decides whether it may be shown, and for how long. */
export const glance = signal<WallSettings['glance']>(null);
/** The pedal that is being taught; null: none. */
export const teaching = signal<PedalUse | null>(null);
/** What the screen would be with the open bar as long as A4 paper; null: nobody is setting it. */
export const trial = signal<number | null>(null);

/** Cards that a pedal goes through; the screen's own is asked for with S. */
const ROUND: readonly WallCardName[] = WALL_CARDS.filter((card) => card !== 'screen' && card !== 'jump');
const USES: readonly PedalUse[] = ['next', 'back', 'print'];
const STEP = 1.004;

function lookAt(card: WallCardName | null): void {
  glance.value = card === null ? null : { card, atMs: showNow() };
}

/**
 * Keys of the wall. A pedal is a keyboard with one to three keys; nothing is ever typed and nothing is ever logged from
 * here. S shows the screen's own card: arrow keys and Enter set its size against a sheet of A4, then each pedal is pressed once.
 */
export function pressWallKey(event: KeyboardEvent, board: WallBoard | null): void {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const { key } = event;
  if (teaching.value !== null) {
    event.preventDefault();
    return event.repeat ? undefined : teach(key);
  }
  const isScreen = board?.name === 'screen';
  if (isScreen && /^Arrow/.test(key)) {
    event.preventDefault();
    trial.value = (trial.value ?? readMmPerPx()) * (key === 'ArrowRight' || key === 'ArrowUp' ? 1 / STEP : STEP);
    lookAt('screen');
    return;
  }
  if (event.repeat) return;
  if (isScreen && key === 'Enter') {
    if (trial.value !== null) setMmPerPx(trial.value);
    trial.value = null;
    teaching.value = 'next';
    return;
  }
  const { pedals } = wallScreen.value;
  const use = USES.find((u) => pedals[u] === key);
  if (use === undefined && key !== 's' && key !== 'S') return;
  event.preventDefault();
  trial.value = null;
  if (use === 'print') window.print();
  else if (use === 'back') lookAt(null);
  else if (use === 'next') {
    const at = ROUND.indexOf((glance.value && board?.because === 'glance' ? glance.value.card : board?.name) as WallCardName);
    lookAt(ROUND[(at + 1) % ROUND.length]!);
  } else lookAt('screen');
}

function teach(key: string): void {
  const use = teaching.value!;
  if (key !== 'Enter' && key !== 'Escape') teachPedal(use, key);
  teaching.value = key === 'Escape' ? null : (USES[USES.indexOf(use) + 1] ?? null);
  if (teaching.value === null) lookAt(null);
}
