import { checkEntryKind } from '../../core/case/entry-kinds.ts';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { findEchoField } from '../../core/echo/echo-fields.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { checkResultEntry } from '../../core/verdict/result-fields.ts';
import type { CaseStore } from '../storage/store-types.ts';
import { checkTakenAt } from './check-taken-at.ts';

const notHere = () => fail('event-not-here', SERVER_EN.eventNotHere, SERVER_EN.eventNotHereNext);
const misfit = (field: string, isKnown: boolean): Failure<'entry-invalid'> =>
  // A field that is not known is what was typed, and is not repeated.
  fail('entry-invalid', formatText(RECORDINGS_EN, 'entryInvalid', { field: isKnown ? field : '?' }), RECORDINGS_EN.entryInvalidNext, isKnown ? { field } : {}).failure;

/**
 * Whether events of the result name what the case has: its witnesses, echoes, pictures, readers and shown answers. Events of other
 * kinds pass. An echo that is begun in the same writing is known from there on.
 * Fails     event-not-here, entry-invalid, taken-in-future, and as the store
 */
export async function checkResultEvents(events: readonly NewCaseEvent[], state: CaseState, store: CaseStore, nowMs: number): Promise<Result<null, string>> {
  const { recordings, echoes, angiograms } = state.result;
  const echoIds = new Set(echoes.map((e) => e.echoId));
  const others = new Set([...recordings.map((r) => r.recordingId), ...angiograms.map((a) => a.angiogramId)]);
  for (const event of events) {
    const checked = await checkOne(event);
    if (!checked.ok) return checked;
  }
  return succeed(null);

  async function checkOne(event: NewCaseEvent): Promise<Result<null, string>> {
    switch (event.kind) {
      case 'witness.noted':
      case 'witness.withdrawn':
        if (!echoIds.has(event.data.of) && !others.has(event.data.of)) return notHere();
        return event.kind === 'witness.noted' ? checkTakenAt(event.data.takenAt, nowMs) : succeed(null);
      case 'echo.begun':
        if (others.has(event.data.echoId)) return notHere();
        echoIds.add(event.data.echoId);
        return checkTakenAt(event.data.takenAt, nowMs);
      case 'echo.entered': {
        const { echoId, field, value, trace } = event.data;
        if (!echoIds.has(echoId)) return notHere();
        const about = findEchoField(field);
        if (about === null || checkEntryKind(about, value) !== null) return { ok: false, failure: misfit(field, about !== null) };
        const pictures = echoes.find((e) => e.echoId === echoId)?.files.filter((f) => f.is === 'picture') ?? [];
        return trace === null || pictures.some((f) => f.blobSha256 === trace.blobSha256) ? succeed(null) : notHere();
      }
      case 'result.entered': {
        const problem = checkResultEntry(event.data.field, event.data.value);
        return problem === null ? succeed(null) : { ok: false, failure: misfit(event.data.field, problem !== 'field-unknown') };
      }
      case 'readers.present': {
        const people = await store.listPeople();
        if (!people.ok) return people;
        const known = new Set(people.value.map((p) => p.personId));
        return event.data.personIds.every((id) => known.has(id)) ? succeed(null) : notHere();
      }
      case 'result.decided': {
        const { answerSha256 } = event.data;
        return answerSha256 === null || state.result.shown.some((s) => s.what === 'verdict' && s.answerSha256 === answerSha256) ? succeed(null) : notHere();
      }
      default: return succeed(null);
    }
  }
}
