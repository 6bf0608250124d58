import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { Result } from '../../core/result.ts';

/** What a handed file means for a case: a document to keep first, and the events that follow from it. */
export interface AddedFile {
  readonly what: string;
  /** Kept byte for byte, so that its hash is that of the file. */
  readonly document: string | null;
  /** Decided on the case as it stands when it is written. Fails case-plan-differs, case-plan-training, entries-doubt-unknown. */
  listEvents(state: CaseState, plan: Plan | null): Result<readonly NewCaseEvent[], string>;
}
