import type { CaseState } from '../case/fold-case.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { readInstantMs } from '../units/iso-time.ts';
import { assembleVerdict, listOverallGrades } from './assemble-verdict.ts';
import type { VerdictCase } from './verdict-case.ts';
import { composeVerdict, findRoundStart, type VerdictAnswer } from './compose-verdict.ts';
import { judgeGradeGate, type GradeGate, type OwnGrade } from './own-grade-first.ts';
import { readVerdictClock } from './read-verdict-clock.ts';

/** Where a reader stands in the round of grading that runs now. */
export interface ReaderPlace {
  readonly gate: GradeGate;
  /** The round began then: release or the last manoeuvre; null: neither is logged. */
  readonly sinceAt: string | null;
  /** Their own overall grade of this round is stored. */
  readonly hasOwn: boolean;
  /** The gate is open and they have a grade themselves: they may ask for the verdict. */
  readonly maySee: boolean;
  /** They were shown the verdict, or others' grades, in this round before. */
  readonly hasSeen: { readonly verdict: boolean; readonly grades: boolean };
}
type Grade = CaseState['result']['grades'][number];

/**
 * Where a reader stands, from the log alone: no sealed grade need be opened for it. Overall grades open the gate; a manoeuvre begins
 * a new round (job.md, D43, E11).
 * Fails    never
 */
export function placeReader(c: Pick<VerdictCase, 'state' | 'room' | 'nowAt'>, personId: string): ReaderPlace {
  const { state: { result }, room, nowAt } = c;
  const sinceAt = findRoundStart(readVerdictClock(room, nowAt));
  const gate = judgeGradeGate(result.readers?.personIds ?? [], listOverallGrades({ state: c.state, grades: new Map() }), sinceAt, nowAt);
  const isOfRound = (at: string): boolean => sinceAt === null || readInstantMs(at) > readInstantMs(sinceAt);
  const hasOwn = result.grades.some((g) => g.by === personId && g.of === 'overall' && isOfRound(g.at));
  const shown = result.shown.filter((s) => s.by === personId && isOfRound(s.at));
  return { gate, sinceAt, hasOwn, maySee: gate.isOpen && hasOwn, hasSeen: { verdict: shown.some((s) => s.what === 'verdict'), grades: shown.length > 0 } };
}

/** Whether a sealed grade may be opened for this reader: their own always; others' of this round once their own overall grade is stored. */
export function mayOpenGrade(grade: Pick<Grade, 'by' | 'at'>, personId: string, { hasOwn, sinceAt }: ReaderPlace): boolean {
  if (grade.by === personId) return true;
  return hasOwn && (sinceAt === null || readInstantMs(grade.at) > readInstantMs(sinceAt));
}

/**
 * The answer as this reader may have it. `withVerdict`: they asked for it, and that is logged; without it nothing of any grade but
 * their own stands in the answer. `nameOf` names readers in the sentences.
 * Fails    never
 */
export function showResult(c: VerdictCase, personId: string, place: ReaderPlace, withVerdict: boolean, nameOf: (personId: string) => string): VerdictAnswer {
  const answer = composeVerdict(assembleVerdict(c));
  const own: readonly OwnGrade[] = place.hasOwn ? listOpened(c, personId, place) : [];
  const gate = { ...answer.gate, visibleTo: { [personId]: own } };
  if (withVerdict && place.maySee) return { ...answer, gate };
  const next = answer.gate.isOpen ? (place.hasOwn ? VERDICT_EN.nextAsk : VERDICT_EN.nextOwn)
    : answer.gate.waitingFor.length > 0 ? formatText(VERDICT_EN, 'nextGrade', { list: answer.gate.waitingFor.map(nameOf).join(', ') }) : VERDICT_EN.nextPresent;
  return { ...answer, gate, verdict: null, settling: [], lowDiastole: null, remedies: null, sites: null, next };
}

/** Overall grades of the round that this reader may see. */
function listOpened(c: VerdictCase, personId: string, place: ReaderPlace): readonly OwnGrade[] {
  return listOverallGrades(c).filter((g) => mayOpenGrade(g, personId, place) && c.state.result.grades.some((s) => s.seq === g.seq && c.grades.has(s.sealedSha256)));
}
