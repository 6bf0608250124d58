import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import type { Result } from '../../core/result.ts';
import type { Services } from '../server/handler-types.ts';

const MOST_TRIES = 50;

/**
 * Adds what a job found to its case, whatever people wrote meanwhile: the event says itself what it is based on. Tells
 * the pages that look at the case.
 * Fails     as the store
 */
export async function addCaseEvent({ store, feed }: Pick<Services, 'store' | 'feed'>, caseId: string, by: string, event: NewCaseEvent | readonly NewCaseEvent[]): Promise<Result<readonly CaseEvent[]>> {
  for (let tries = 1; ; tries++) {
    const before = await store.readState(caseId);
    if (!before.ok) return before;
    const added = await store.append({ caseId, expectSeq: before.value.seq, by, events: 'kind' in event ? [event] : event });
    if (!added.ok && added.failure.code === 'case-changed' && tries < MOST_TRIES) continue;
    if (!added.ok) return added;
    const state = await store.readState(caseId);
    if (state.ok) feed.publish(caseId, { kind: 'case', state: state.value, events: added.value });
    return added;
  }
}
