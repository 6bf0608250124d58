import type { PointName } from './shot.ts';

/** What a key asks for; everything a hand can do to a reading, a key can. */
export type DepthWish =
  | { readonly wish: 'point'; readonly point: PointName }
  | { readonly wish: 'frame'; readonly by: number }
  | { readonly wish: 'undo' | 'view' | 'keep' | 'invert' };

const POINT_KEYS: Readonly<Record<string, PointName>> = { n: 'cuspN', '1': 'inflowA', '2': 'inflowB', r: 'cuspR', l: 'cuspL' };

/** A for the axis and C for a known size go on to their second point once the first is marked. */
export function readDepthKey(key: string, has: (point: PointName) => boolean): DepthWish | null {
  const plain = key.toLowerCase();
  const point = POINT_KEYS[plain];
  if (point) return { wish: 'point', point };
  if (plain === 'a') return { wish: 'point', point: has('axisA') && !has('axisB') ? 'axisB' : 'axisA' };
  if (plain === 'c') return { wish: 'point', point: has('knownA') && !has('knownB') ? 'knownB' : 'knownA' };
  if (key === ',' || key === 'PageUp') return { wish: 'frame', by: -1 };
  if (key === '.' || key === 'PageDown') return { wish: 'frame', by: 1 };
  if (key === 'Home') return { wish: 'frame', by: -Infinity };
  if (key === 'End') return { wish: 'frame', by: Infinity };
  if (key === 'Backspace') return { wish: 'undo' };
  if (plain === 'v') return { wish: 'view' };
  if (plain === 'k') return { wish: 'keep' };
  if (plain === 'i') return { wish: 'invert' };
  return null;
}
