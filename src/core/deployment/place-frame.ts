import { lpsFromCylinder, type RootFrame } from '../root/root-frame.ts';
import type { RootMap } from '../root/root-types.ts';
import type { DeviceFrame } from '../device/device-types.ts';
import { measureFreeRadius } from './free-frame.ts';

/** Lines between points. Shape: pairs of point numbers; LPS mm. */
export interface LineMesh {
  readonly pointsLpsMm: Float32Array<ArrayBuffer>;
  readonly pairs: Uint32Array<ArrayBuffer>;
}

/** Each strut in this many pieces, so that it follows frame and wall. */
const PIECES = 4;

/**
 * The net of a frame standing in the root at a depth: for looking, not for computing.
 *
 * Shape     a diamond net of `cells` around, rows about as high as wide
 * Units     mm; depth of the inflow edge below the basal plane, + toward the ventricle
 * Frame     LPS, through the survey's frame
 * Equation  radius = the smaller of the freely expanded frame and the wall of the map; without a wall there, the frame's
 * Fails     null when the frame has no height or no cells
 * Source    docs/methods/viewer.md, "Frame in space"
 * Limits    centred on the root's axis and straight; where it would press, the release forecast says more
 */
export function placeFrame(device: DeviceFrame, depthMm: number, frame: RootFrame, map: RootMap): LineMesh | null {
  const cells = Math.max(6, Math.round(device.cells));
  if (!(device.heightMm > 0 && Number.isFinite(cells) && Number.isFinite(depthMm))) return null;
  const wide = (Math.PI * (device.inflowMm + device.outflowMm)) / 2 / cells;
  // Two rows make one diamond.
  const rows = Math.max(2, 2 * Math.round(device.heightMm / wide));
  const points: number[] = [];
  const pairs: number[] = [];
  const put = (turn: number, row: number): number => {
    const heightMm = (device.heightMm * row) / rows;
    const azimuthRad = (2 * Math.PI * turn) / cells;
    const wallMm = readMapRadius(map, azimuthRad, heightMm - depthMm);
    const freeMm = measureFreeRadius(device, Math.min(device.heightMm, heightMm));
    points.push(...lpsFromCylinder(frame, { azimuthRad, heightMm: heightMm - depthMm, radiusMm: wallMm === null ? freeMm : Math.min(freeMm, wallMm) }));
    return points.length / 3 - 1;
  };
  for (let row = 0; row < rows; row++) {
    const from = row % 2 === 0 ? 0 : 0.5;
    for (let cell = 0; cell < cells; cell++) {
      for (const lean of [-0.5, 0.5]) {
        let last = put(cell + from, row);
        for (let piece = 1; piece <= PIECES; piece++) {
          const next = put(cell + from + (lean * piece) / PIECES, row + piece / PIECES);
          pairs.push(last, next);
          last = next;
        }
      }
    }
  }
  return { pointsLpsMm: Float32Array.from(points), pairs: Uint32Array.from(pairs) };
}

/** Radius of the unrolled map at a place, linear between its samples; null where one of them is missing or outside. */
export function readMapRadius(map: RootMap, azimuthRad: number, heightMm: number): number | null {
  const { azimuthDeg, heightMm: heights, radiusMm } = map;
  const n = azimuthDeg.length;
  const upper = heights.findIndex((h) => h >= heightMm);
  if (n < 2 || upper < 0 || (upper === 0 && heights[0] !== heightMm)) return null;
  const lower = Math.max(0, upper - 1);
  const span = heights[upper]! - heights[lower]!;
  const fh = span > 0 ? (heightMm - heights[lower]!) / span : 0;
  const place = ((((azimuthRad * 180) / Math.PI - azimuthDeg[0]!) / 360) * n % n + n) % n;
  const left = Math.floor(place) % n;
  const fa = place - Math.floor(place);
  const at = (row: number): number | null => {
    const [a, b] = [radiusMm[row]?.[left], radiusMm[row]?.[(left + 1) % n]];
    return a == null || b == null ? null : a + fa * (b - a);
  };
  const [low, high] = [at(lower), at(upper)];
  return low === null || high === null ? null : low + fh * (high - low);
}
