import type { CaseEvent, CaseEventData, CaseEventKind } from '../../core/case/case-events.ts';
import type { DocumentKind } from '../storage/store-types.ts';

/** A document that an event names, and what it is. */
export interface NamedDocument {
  readonly sha256: string;
  readonly kind: DocumentKind;
  readonly seq: number;
}

/** Every document that the events of a case name, each once, in the order in which they came. Pixels are no documents. */
export function listNamedDocuments(events: readonly CaseEvent[]): readonly NamedDocument[] {
  const found = new Map<string, NamedDocument>();
  for (const event of events) {
    for (const [kind, sha256] of listOf(event)) if (sha256 && !found.has(sha256)) found.set(sha256, { sha256, kind, seq: event.seq });
  }
  return [...found.values()];
}

function listOf(event: CaseEvent): readonly (readonly [NamedDocument['kind'], string | null | undefined])[] {
  const is = <K extends CaseEventKind>(kind: K): CaseEventData[K] | null => (event.kind === kind ? (event.data as CaseEventData[K]) : null);
  const scan = is('scan.joined');
  if (scan) return [['manifest', scan.manifestSha256]];
  const tables = is('tables.chosen');
  if (tables) return [['devices', tables.devicesSha256], ['rules', tables.rulesSha256], ['rescue', tables.rescueSha256], ['rhythm-rules', tables.rhythmSha256]];
  const plan = is('plan.made');
  if (plan) return [['plan', plan.planSha256], ['survey', plan.surveySha256]];
  const reading = is('reading.saved');
  if (reading) return [['plan', reading.planSha256], ['landmarks', reading.landmarksSha256]];
  const frozen = is('plan.frozen');
  if (frozen) return [['plan', frozen.planSha256], ['frozen', frozen.frozenSha256]];
  const recording = is('recording.joined');
  if (recording) return [['pressure', recording.answerSha256]];
  const angiogram = is('angiogram.measured');
  if (angiogram) return [['contrast', angiogram.answerSha256]];
  const grade = is('grade.sealed');
  if (grade) return [['grade', grade.sealedSha256]];
  const verdict = is('verdict.shown') ?? is('result.decided');
  if (verdict) return [['verdict', verdict.answerSha256]];
  const ecg = is('ecg.joined');
  return ecg ? [['ecg', ecg.readingSha256]] : [];
}
