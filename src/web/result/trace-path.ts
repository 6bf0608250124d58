/**
 * Path of a curve from the least and the most of each column; a column without samples breaks the line. Where both are the
 * same the line goes through once, so that a short stretch is drawn as it was sampled.
 */
export function drawTracePath(lows: readonly (number | null)[], highs: readonly (number | null)[], left: number, right: number, y: (value: number) => number): string {
  const step = (right - left) / Math.max(1, lows.length);
  const parts: string[] = [];
  let isOn = false;
  let lastY = 0;
  for (let i = 0; i < lows.length; i++) {
    const [low, high] = [lows[i] ?? null, highs[i] ?? null];
    if (low === null || high === null) {
      isOn = false;
      continue;
    }
    const at = (left + (i + 0.5) * step).toFixed(1);
    const ends = low === high ? [y(low)] : [y(high), y(low)];
    // The nearer end first: the line goes on from where it is.
    if (ends.length === 2 && isOn && Math.abs(ends[1]! - lastY) < Math.abs(ends[0]! - lastY)) ends.reverse();
    for (const end of ends) {
      parts.push(`${isOn ? 'L' : 'M'}${at} ${end.toFixed(1)}`);
      isOn = true;
      lastY = end;
    }
  }
  return parts.join('');
}

/** Top of a pressure scale: a round number above all values, 40 at least. */
export function findTop(highs: readonly (number | null)[]): number {
  let most = 40;
  for (const v of highs) if (v !== null && v > most) most = v;
  return Math.ceil((most + 4) / 20) * 20;
}

export function listTicks(from: number, to: number, step: number): readonly number[] {
  const ticks: number[] = [];
  for (let v = Math.ceil(from / step) * step; v <= to + 1e-9; v += step) ticks.push(v);
  return ticks;
}
