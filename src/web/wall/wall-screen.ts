import { signal } from '@preact/signals';
import type { RoomState } from '../../core/room/room-state.ts';
import { BAR_RATIO } from '../../formats/report/lay-out-wall-board.ts';
import { BOARD_MM } from '../../formats/report/wall-pen.ts';

/**
 * What this screen is: its name, its mm per pixel and its pedals; set once, kept in this browser. A screen that nobody
 * measured, or that has other pixels than then, is taken for one of 24 inches and says so.
 */
export type PedalUse = 'next' | 'back' | 'print';
export interface WallScreen {
  /** A letter and a digit: the desk names the wall by it. */
  readonly name: string;
  readonly mmPerPx: number | null;
  /** Pixels of the screen when it was measured. */
  readonly pixels: string | null;
  /** Measurements from the log that were taken over, so that a reload takes none twice. */
  readonly takenAt: string;
  readonly pedals: Readonly<Record<PedalUse, string>>;
}
const KEY = 'trinadir.wall';
const LETTERS = 'ACEFHJKLMNPRTUVWXY';
/** What usual pedals and presenters send. */
const USUAL: WallScreen['pedals'] = { next: 'PageDown', back: 'PageUp', print: 'p' };
const LEAST_MM_PER_PX = 0.05;
const MOST_MM_PER_PX = 4;

const readPixels = (): string => `${screen.width}x${screen.height}@${devicePixelRatio}`;
const isScale = (value: unknown): value is number => typeof value === 'number' && value >= LEAST_MM_PER_PX && value <= MOST_MM_PER_PX;

function makeName(): string {
  const [letter, digit] = crypto.getRandomValues(new Uint8Array(2));
  return `${LETTERS[letter! % LETTERS.length]}${2 + (digit! % 8)}`;
}
function readStored(): WallScreen {
  const fresh: WallScreen = { name: makeName(), mmPerPx: null, pixels: null, takenAt: '', pedals: USUAL };
  try {
    const stored = JSON.parse(localStorage.getItem(KEY) ?? 'null') as Partial<WallScreen> | null;
    if (!stored || !/^[A-Z]\d$/.test(stored.name ?? '')) return fresh;
    return { ...fresh, ...stored, mmPerPx: isScale(stored.mmPerPx) ? stored.mmPerPx : null, pedals: { ...USUAL, ...stored.pedals } };
  } catch {
    return fresh; // storage is switched off or broken: set up again at each visit
  }
}
export const wallScreen = signal<WallScreen>(readStored());
function change(next: Partial<WallScreen>): void {
  wallScreen.value = { ...wallScreen.value, ...next };
  try {
    localStorage.setItem(KEY, JSON.stringify(wallScreen.value));
  } catch {
    // see above
  }
}
/** The name must last as long as the screen. */
export const keepWallScreen = (): void => change({});

export const isScreenMeasured = (): boolean => wallScreen.value.mmPerPx !== null && wallScreen.value.pixels === readPixels();
export function readMmPerPx(): number {
  const { mmPerPx } = wallScreen.value;
  return mmPerPx !== null && isScreenMeasured() ? mmPerPx : Math.min(BOARD_MM.width / innerWidth, BOARD_MM.height / innerHeight);
}
export function setMmPerPx(mmPerPx: number): void {
  if (isScale(mmPerPx)) change({ mmPerPx, pixels: readPixels() });
}
export const teachPedal = (use: PedalUse, key: string): void => change({ pedals: { ...wallScreen.value.pedals, [use]: key } });

/** Width of the page while its bar was shown, CSS pixels; null: the bar was not seen since this page was opened. */
let barWidthPx: number | null = null;
export function noteBar(widthPx: number): void {
  barWidthPx = widthPx;
}
/** The newest measurement of this wall in the log, once each. One made before the bar was seen here is not of this window. */
export function takeMeasurement(room: RoomState): void {
  const { name, takenAt } = wallScreen.value;
  for (let i = room.records.length - 1; i >= 0; i--) {
    const { entry, standing, happenedAt } = room.records[i]!;
    if (happenedAt <= takenAt) return;
    if (entry?.is !== 'screen' || standing !== 'current' || entry.wall !== name) continue;
    change({ takenAt: happenedAt });
    if (barWidthPx !== null) setMmPerPx(entry.barMm / (BAR_RATIO * barWidthPx));
    return;
  }
}
