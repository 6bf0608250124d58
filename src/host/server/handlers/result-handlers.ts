import { randomBytes } from 'node:crypto';
import { formatCanonical } from '../../../core/audit/format-canonical.ts';
import type { CaseState } from '../../../core/case/fold-case.ts';
import type { SealedGrade } from '../../../core/case/result-events.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { foldRoom } from '../../../core/room/fold-room.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../../core/text/recordings-en.ts';
import type { VerdictAnswer } from '../../../core/verdict/compose-verdict.ts';
import type { VerdictCase } from '../../../core/verdict/verdict-case.ts';
import { mayOpenGrade, placeReader, showResult, type ReaderPlace } from '../../../core/verdict/show-result.ts';
import type { ResultAnswer } from '../../../formats/api/result-schemas.ts';
import { addCaseEvent } from '../../jobs/add-case-event.ts';
import { formatInstant } from '../../security/steady-clock.ts';
import { checkTakenAt } from '../check-taken-at.ts';
import type { Door } from '../door.ts';
import type { Handlers, Services } from '../handler-types.ts';
import { loadVerdictCase } from '../load-verdict-case.ts';
import { makeVerdictDocuments } from '../read-verdict-document.ts';

export type ResultRoute = 'giveGrade' | 'readResult' | 'showVerdict';

const MOST_TRIES = 20;

/** Own grades and the verdict: nobody is told more than they may see, and what they are told is in the log before they have it. */
export function makeResultHandlers({ readNow }: Pick<Door, 'readNow'>): Pick<Handlers, ResultRoute> {
  const door: Reading = { readNow, readDocument: makeVerdictDocuments() };
  return {
    async giveGrade({ params: { caseId }, body, caller }, services) {
      const taken = checkTakenAt(body.takenAt, readNow());
      if (!taken.ok) return taken;
      const state = await services.store.readState(caseId);
      if (!state.ok) return state;
      const { of, low, high, takenAt, heartRatePerMin, loadingNote } = body;
      const grade: SealedGrade = { format: 'trinadir.grade/1', of, low, high, takenAt, heartRatePerMin, loadingNote, nonce: randomBytes(16).toString('hex') };
      const sealed = await services.store.putDocument('grade', formatCanonical(grade));
      if (!sealed.ok) return sealed;
      const added = await addCaseEvent(services, caseId, caller!.personId, { kind: 'grade.sealed', data: { gradeId: `grade-${randomBytes(12).toString('hex')}`, of, sealedSha256: sealed.value.sha256 } });
      return added.ok ? answerResult(services, door, caseId, caller!.personId) : added;
    },

    readResult: ({ params: { caseId }, caller }, services) => answerResult(services, door, caseId, caller!.personId),

    async showVerdict({ params: { caseId }, caller }, services) {
      const personId = caller!.personId;
      for (let tries = 1; ; tries++) {
        const view = await readView(services, door, caseId, personId);
        if (!view.ok) return view;
        const { place, verdictCase, nameOf } = view.value;
        if (!place.maySee) return failGate(place, nameOf);
        const answer = showResult(verdictCase, personId, place, true, nameOf);
        const before = place.hasSeen.verdict ? await readLastShown(services, verdictCase.state, personId) : null;
        // The same verdict once more is the one that was logged: what goes to the wall or is decided over names that document.
        if (before && nameVerdict(before.verdict) === nameVerdict(answer)) return succeed({ verdict: repeatShown(before.verdict, answer), answerSha256: before.answerSha256, grades: listGrades(verdictCase, personId, place), isTraining: isTraining(verdictCase) });
        const kept = await keepShown(services, verdictCase.state, { ...answer, gate: { ...answer.gate, visibleTo: {} } });
        if (!kept.ok) return kept;
        // Written only on the very state that was judged: whoever became a reader meanwhile grades first.
        const logged = await logShown(services, verdictCase.state, personId, 'verdict', kept.value);
        if (!logged.ok && logged.failure.code === 'case-changed' && tries < MOST_TRIES) continue;
        if (!logged.ok) return logged;
        return succeed({ verdict: answer, answerSha256: kept.value, grades: listGrades(verdictCase, personId, place), isTraining: isTraining(verdictCase) });
      }
    },
  };
}

type Reading = Pick<Door, 'readNow'> & { readonly readDocument: ReturnType<typeof makeVerdictDocuments> };
interface View {
  readonly place: ReaderPlace;
  readonly verdictCase: VerdictCase;
  readonly nameOf: (personId: string) => string;
}

async function readView({ store }: Pick<Services, 'store'>, { readNow, readDocument }: Reading, caseId: string, personId: string): Promise<Result<View, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const listed = await store.listRecords(caseId, 0);
  if (!listed.ok) return listed;
  const records = listed.value.map(({ data, by, seq }) => ({ ...data, by, seq }));
  // The case's own clock never lies behind its last event.
  const nowAt = [formatInstant(readNow()), state.value.changedAt].sort().at(-1)!;
  const place = placeReader({ state: state.value, room: foldRoom(records), nowAt }, personId);
  const people = await store.listPeople();
  if (!people.ok) return people;
  const names = new Map(people.value.map((p) => [p.personId, p.displayName]));
  const source = {
    state: state.value, records,
    readDocument: (sha256: string) => readDocument(store, sha256),
  };
  const loaded = await loadVerdictCase(source, nowAt, (grade) => mayOpenGrade(grade, personId, place));
  return loaded.ok ? succeed({ place, verdictCase: loaded.value, nameOf: (id) => names.get(id) ?? id }) : loaded;
}

/** What the caller may see now. Others' grades are told only after that is in the log. */
async function answerResult(services: Services, door: Reading, caseId: string, personId: string): Promise<Result<ResultAnswer, string>> {
  for (let tries = 1; ; tries++) {
    const view = await readView(services, door, caseId, personId);
    if (!view.ok) return view;
    const { place, verdictCase, nameOf } = view.value;
    const grades = listGrades(verdictCase, personId, place);
    const others = grades.filter((g) => g.by !== personId);
    if (others.length > 0 && !place.hasSeen.grades) {
      const kept = await keepShown(services, verdictCase.state, { format: 'trinadir.grades-shown/1', to: personId, at: verdictCase.nowAt, gradeIds: others.map((g) => g.gradeId) });
      if (!kept.ok) return kept;
      const logged = await logShown(services, verdictCase.state, personId, 'grades', kept.value);
      if (!logged.ok && logged.failure.code === 'case-changed' && tries < MOST_TRIES) continue;
      if (!logged.ok) return logged;
    }
    const hidden = showResult(verdictCase, personId, place, false, nameOf);
    // Told again are the words that were logged as shown; newer ones are for who asks for them, and then they are logged.
    const shown = place.maySee && place.hasSeen.verdict ? await readLastShown(services, verdictCase.state, personId) : null;
    return succeed({ verdict: shown ? repeatShown(shown.verdict, hidden) : hidden, answerSha256: shown?.answerSha256 ?? null, grades, isTraining: isTraining(verdictCase) });
  }
}

/** The verdict that this person was shown last; null: it cannot be read. */
async function readLastShown({ store }: Services, { result }: CaseState, personId: string): Promise<{ readonly verdict: VerdictAnswer; readonly answerSha256: string } | null> {
  const last = result.shown.filter((s) => s.by === personId && s.what === 'verdict').at(-1);
  const document = last ? await store.readDocument(last.answerSha256) : null;
  return last && document?.ok ? { verdict: JSON.parse(document.value.text) as VerdictAnswer, answerSha256: last.answerSha256 } : null;
}
/** A shown verdict again, with the gate and the clock of waiting as they are now. */
const repeatShown = (shown: VerdictAnswer, { gate, waiting }: VerdictAnswer): VerdictAnswer => ({ ...shown, gate, waiting });
/** What makes two answers the same verdict: all but the time and the words that count minutes. */
const nameVerdict = ({ verdict, settling, lowDiastole, remedies, sites }: VerdictAnswer): string =>
  formatCanonical(JSON.parse(JSON.stringify({ verdict, settling, lowDiastole, remedies: remedies?.map(({ detail: _detail, ...row }) => row) ?? null, sites })));

/** A document of the case: it names the case and the state that it was made from. */
async function keepShown({ store }: Services, state: CaseState, content: object): Promise<Result<string, string>> {
  const kept = await store.putDocument('verdict', formatCanonical(JSON.parse(JSON.stringify({ ...content, caseId: state.caseId, basedOnSeq: state.seq }))));
  return kept.ok ? succeed(kept.value.sha256) : kept;
}

async function logShown({ store, feed }: Services, before: CaseState, personId: string, what: 'verdict' | 'grades', answerSha256: string): Promise<Result<null, string>> {
  const added = await store.append({ caseId: before.caseId, expectSeq: before.seq, by: personId, events: [{ kind: 'verdict.shown', data: { what, answerSha256 } }] });
  if (!added.ok) return added;
  const state = await store.readState(before.caseId);
  if (state.ok) feed.publish(before.caseId, { kind: 'case', state: state.value, events: added.value });
  return succeed(null);
}

function listGrades({ state, grades }: VerdictCase, personId: string, place: ReaderPlace): ResultAnswer['grades'] {
  return state.result.grades.flatMap((g) => {
    const opened = mayOpenGrade(g, personId, place) ? grades.get(g.sealedSha256) : undefined;
    if (!opened) return [];
    const { low, high, takenAt, heartRatePerMin, loadingNote } = opened;
    return [{ gradeId: g.gradeId, of: g.of, low, high, by: g.by, at: g.at, takenAt, heartRatePerMin, loadingNote }];
  });
}
const isTraining = ({ state, rules }: VerdictCase): boolean => state.training || rules?.training === true;

function failGate({ gate, hasOwn }: ReaderPlace, nameOf: (personId: string) => string): Result<never, 'grade-first'> {
  if (gate.isOpen && !hasOwn) return fail('grade-first', RECORDINGS_EN.gradeOwnFirst, RECORDINGS_EN.gradeOwnFirstNext);
  if (gate.waitingFor.length === 0) return fail('grade-first', RECORDINGS_EN.gradeNobody, RECORDINGS_EN.gradeNobodyNext);
  return fail('grade-first', formatText(RECORDINGS_EN, 'gradeFirst', { list: gate.waitingFor.map(nameOf).join(', ') }), RECORDINGS_EN.gradeFirstNext, { readers: gate.waitingFor.length });
}
