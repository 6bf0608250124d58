import type { WitnessNote } from '../../core/case/result-events.ts';

interface Line {
  readonly seq: number;
  readonly at: string;
  readonly takenAt?: string;
  readonly note: WitnessNote | null;
  readonly withdrawn: unknown;
}
export const readTakenAt = (line: Line): string => line.note?.takenAt ?? line.takenAt ?? line.at;

/** The witness that counts among those of one kind: taken last, then logged last, and not withdrawn (assemble-verdict.ts). */
export function findCounting<L extends Line>(lines: readonly L[]): L | null {
  const ms = (line: Line): number => Date.parse(readTakenAt(line));
  return lines.filter((l) => l.withdrawn === null).reduce<L | null>((a, l) => (a === null || ms(l) > ms(a) || (ms(l) === ms(a) && l.seq > a.seq) ? l : a), null);
}
