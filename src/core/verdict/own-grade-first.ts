import { readInstantMs } from '../units/iso-time.ts';
import type { LeakInterval, WitnessKind } from './verdict-types.ts';

/** A reader's own grade as it was stored; `at` is the server's time of storing. */
export interface OwnGrade {
  readonly by: string;
  readonly at: string;
  readonly interval: LeakInterval;
  /** What they looked at; null: their overall impression. */
  readonly kind: WitnessKind | null;
  /** Place in a log: of two that have one, it decides which came first, not the clock. */
  readonly seq?: number | undefined;
}
export interface GradeGate {
  /** The fused line may be shown. */
  readonly isOpen: boolean;
  /** Present readers without a grade of their own since the last manoeuvre, in the order given. */
  readonly waitingFor: readonly string[];
  /** When the last present reader's first grade was stored; null while closed. */
  readonly openedAt: string | null;
  /** Grades that the reader may see: all once their own is stored, else only their own. */
  readonly visibleTo: Readonly<Record<string, readonly OwnGrade[]>>;
}

/**
 * Who may see what at `nowAt`: a reader sees others' grades only after storing their own, and the fused line only after every
 * present reader has (job.md, D43, E11). A manoeuvre begins a new round: grades up to it no longer count.
 * A function of time stamps alone, so that the log proves the order afterwards.
 * With nobody present the gate is closed: there is no own grade.
 * Fails    never; a grade whose time cannot be read, or lies after `nowAt`, is not stored yet
 */
export function judgeGradeGate(present: readonly string[], grades: readonly OwnGrade[], sinceAt: string | null, nowAt: string): GradeGate {
  const [nowMs, sinceMs] = [readInstantMs(nowAt), sinceAt === null ? -Infinity : readInstantMs(sinceAt)];
  const stored = grades.filter((g) => {
    const atMs = readInstantMs(g.at);
    return atMs > sinceMs && atMs <= nowMs && g.interval[0] <= g.interval[1];
  });
  const readers = [...new Set(present)];
  const firstOf = (reader: string): string | null => stored.filter((g) => g.by === reader).map((g) => g.at).sort(compareInstants)[0] ?? null;
  const firsts = readers.map(firstOf);
  const waitingFor = readers.filter((_, i) => firsts[i] === null);
  const isOpen = readers.length > 0 && waitingFor.length === 0;
  return {
    isOpen,
    waitingFor,
    openedAt: isOpen ? (firsts as string[]).sort(compareInstants).at(-1)! : null,
    visibleTo: Object.fromEntries(readers.map((reader) => [reader, firstOf(reader) === null ? [] : stored])),
  };
}

/** What was shown to whom and when, as the log has it. `grade`: another reader's; `by`: whose. */
export interface GradeShown {
  readonly to: string;
  readonly at: string;
  readonly what: 'verdict' | 'grade';
  readonly by?: string | undefined;
  readonly seq?: number | undefined;
}

/**
 * Sentences about what was shown too early; empty: the order holds. `present` are the readers of the round. A view at the very
 * instant of the grade is a breach, for the order cannot be proved, unless both have their place in one log.
 */
export function checkOwnGradeFirst(present: readonly string[], grades: readonly OwnGrade[], shown: readonly GradeShown[], sinceAt: string | null = null): readonly string[] {
  const breaches: string[] = [];
  for (const view of shown) {
    const viewMs = readInstantMs(view.at);
    const has = (reader: string): boolean => grades.some((g) => g.by === reader && (g.seq !== undefined && view.seq !== undefined ? g.seq < view.seq : readInstantMs(g.at) < viewMs) && (sinceAt === null || readInstantMs(g.at) > readInstantMs(sinceAt)));
    if (!has(view.to)) breaches.push(`${view.to} saw ${view.what === 'verdict' ? 'the verdict' : 'another grade'} at ${view.at} before their own grade was stored`);
    if (view.what === 'verdict') breaches.push(...present.filter((r) => r !== view.to && !has(r)).map((r) => `the verdict was shown at ${view.at} before the grade of ${r} was stored`));
  }
  return breaches;
}

function compareInstants(a: string, b: string): number {
  return readInstantMs(a) - readInstantMs(b);
}
