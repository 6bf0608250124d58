import type { ContrastAsk } from '../../core/angiogram/contrast-types.ts';

/** What a person says of a run on the command line. */
export type ContrastSaid = Pick<ContrastAsk, 'breathHeld' | 'isPaced' | 'tableMoved' | 'isOverlapped' | 'isInView'>;

const SAID: Readonly<Record<string, ContrastSaid>> = {
  'breath-held': { breathHeld: true }, breathing: { breathHeld: false }, paced: { isPaced: true }, 'not-paced': { isPaced: false }, 'table-moved': { tableMoved: true },
  'table-still': { tableMoved: false }, overlap: { isOverlapped: true }, 'no-overlap': { isOverlapped: false }, 'in-view': { isInView: true }, 'not-in-view': { isInView: false },
};

/** Words of --said; null: one of them is none of the list, or two contradict each other. */
export function parseSaid(text: string): ContrastSaid | null {
  let said: ContrastSaid = {};
  for (const word of text.split(',').map((w) => w.trim())) {
    const adds = Object.hasOwn(SAID, word) ? SAID[word] : undefined;
    if (!adds || Object.entries(adds).some(([key, v]) => (said as Readonly<Record<string, boolean | undefined>>)[key] === !v)) return null;
    said = { ...said, ...adds };
  }
  return said;
}
/** A-B, counted from 1; null: no such range. */
export function parseFrameRange(text: string): readonly [number, number] | null {
  const [from, to] = /^(\d{1,4})-(\d{1,4})$/.exec(text)?.slice(1).map(Number) ?? [];
  return from !== undefined && to !== undefined && from >= 1 && to > from ? [from, to] : null;
}
