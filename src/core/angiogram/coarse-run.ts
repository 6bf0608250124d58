import type { ContrastRun } from './contrast-types.ts';

/** Logarithm of the beam for each stored value; zero counts as half a step. LOG data is brought to a natural logarithm of its range. */
export function makeLogTable({ bits, isInverted, intensity }: Pick<ContrastRun, 'bits' | 'isInverted' | 'intensity'>): Float64Array {
  const top = 2 ** bits - 1;
  const table = new Float64Array(65536);
  const perStep = Math.log(top + 1) / top;
  for (let v = 0; v < table.length; v++) {
    const seen = Math.min(top, v);
    const beam = isInverted ? top - seen : seen;
    table[v] = intensity === 'LOG' ? beam * perStep : Math.log(Math.max(0.5, beam));
  }
  return table;
}

/** Logarithm of a run on a coarse grid: `factor` x `factor` pixels to one, whose centre is at factor x (i + 1/2) - 1/2. */
export interface CoarseRun {
  readonly factor: number;
  readonly columns: number;
  readonly rows: number;
  readonly frames: readonly Float32Array[];
}
const WANTED_COLUMNS = 128;

export function makeCoarseRun(run: ContrastRun, log: Float64Array): CoarseRun {
  const factor = Math.max(1, Math.round(Math.min(run.columns, run.rows) / WANTED_COLUMNS));
  const [columns, rows] = [Math.floor(run.columns / factor), Math.floor(run.rows / factor)];
  const frames = run.frames.map((frame) => {
    const out = new Float32Array(columns * rows);
    for (let r = 0; r < rows * factor; r++) {
      const into = Math.floor(r / factor) * columns;
      let at = r * run.columns;
      for (let c = 0; c < columns; c++) {
        let sum = 0;
        for (let k = 0; k < factor; k++) sum += log[frame[at++]!]!;
        out[into + c]! += sum;
      }
    }
    const share = 1 / (factor * factor);
    for (let i = 0; i < out.length; i++) out[i]! *= share;
    return out;
  });
  return { factor, columns, rows, frames };
}

/** Half the size, means of 2 x 2. */
export function halveGrid(grid: Float32Array, columns: number, rows: number): { readonly grid: Float32Array; readonly columns: number; readonly rows: number } {
  const [w, h] = [columns >> 1, rows >> 1];
  const out = new Float32Array(w * h);
  for (let r = 0; r < h; r++) {
    for (let c = 0; c < w; c++) {
      const i = 2 * r * columns + 2 * c;
      out[r * w + c] = (grid[i]! + grid[i + 1]! + grid[i + columns]! + grid[i + columns + 1]!) / 4;
    }
  }
  return { grid: out, columns: w, rows: h };
}

/** Box mean of 3 x 3, edges repeated. */
export function blurGrid(grid: Float32Array, columns: number, rows: number): Float32Array {
  const pass = new Float32Array(grid.length);
  const out = new Float32Array(grid.length);
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) {
      const i = r * columns + c;
      pass[i] = (grid[i - (c > 0 ? 1 : 0)]! + grid[i]! + grid[i + (c < columns - 1 ? 1 : 0)]!) / 3;
    }
  }
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) {
      const i = r * columns + c;
      out[i] = (pass[r > 0 ? i - columns : i]! + pass[i]! + pass[r < rows - 1 ? i + columns : i]!) / 3;
    }
  }
  return out;
}

/** Value between pixels, by straight lines; outside the edge repeats. */
export function sampleGrid(grid: ArrayLike<number>, columns: number, rows: number, column: number, row: number): number {
  const c = Math.min(columns - 1, Math.max(0, column));
  const r = Math.min(rows - 1, Math.max(0, row));
  const [c0, r0] = [Math.min(columns - 2, Math.floor(c)), Math.min(rows - 2, Math.floor(r))];
  const [u, v] = [c - c0, r - r0];
  const i = r0 * columns + c0;
  return (1 - v) * ((1 - u) * grid[i]! + u * grid[i + 1]!) + v * ((1 - u) * grid[i + columns]! + u * grid[i + columns + 1]!);
}
