import type { EcgMoment } from '../rhythm/rhythm-types.ts';
import type { CaseEvent, CaseEventKind } from './case-events.ts';
import type { EcgWords, EchoTrace, ResultEventData, ResultEventKind, WitnessNote } from './result-events.ts';

interface Stamped {
  readonly by: string;
  readonly at: string;
  readonly seq: number;
}
interface Witnessed {
  readonly note: (WitnessNote & Stamped) | null;
  readonly withdrawn: ({ readonly because: string } & Stamped) | null;
}
/** One item of an echo with where it comes from; a person's entry wins over a report's. */
export interface EchoEntry extends Stamped {
  readonly value: string | number | boolean;
  readonly from: 'person' | 'report';
  readonly trace: EchoTrace | null;
  /** 95 %, in the unit of the field; null: the assumed reading error stands. */
  readonly halfWidth: number | null;
}
export type RecordingLine = ResultEventData['recording.joined'] & Stamped & Witnessed;
export interface EchoLine extends Stamped, Witnessed {
  readonly echoId: string;
  readonly takenAt: string;
  readonly files: readonly (Omit<ResultEventData['echo.joined'], 'echoId' | 'fields' | 'halfWidths'> & Stamped)[];
  readonly entries: Readonly<Record<string, EchoEntry>>;
}
export type AngiogramLine = ResultEventData['angiogram.measured'] & Stamped & Witnessed;
export interface EcgLine {
  readonly entered: ({ readonly words: EcgWords } & Stamped) | null;
  readonly joined: (Omit<ResultEventData['ecg.joined'], 'moment'> & Stamped) | null;
}
/** Result and rhythm of a case; all lists in the order of the log, withdrawn witnesses with them. */
export interface ResultState {
  readonly recordings: readonly RecordingLine[];
  readonly echoes: readonly EchoLine[];
  readonly angiograms: readonly AngiogramLine[];
  readonly grades: readonly (ResultEventData['grade.sealed'] & Stamped)[];
  readonly readers: ({ readonly personIds: readonly string[] } & Stamped) | null;
  readonly shown: readonly (ResultEventData['verdict.shown'] & Stamped)[];
  readonly entries: Readonly<Record<string, { readonly value: string | number | boolean } & Stamped>>;
  readonly decided: readonly (ResultEventData['result.decided'] & Stamped)[];
  readonly ecgs: Readonly<Partial<Record<EcgMoment, EcgLine>>>;
}
export const EMPTY_RESULT: ResultState = { recordings: [], echoes: [], angiograms: [], grades: [], readers: null, shown: [], entries: {}, decided: [], ecgs: {} };

/** The result after one more event; the same state where the event is none of it. */
export function foldResult(state: ResultState, event: CaseEvent): ResultState {
  const stamp: Stamped = { by: event.by, at: event.at, seq: event.seq };
  const is = <K extends ResultEventKind>(kind: K): ResultEventData[K] | null => ((event.kind as CaseEventKind) === kind ? (event.data as ResultEventData[K]) : null);
  const fresh = { note: null, withdrawn: null };
  const recording = is('recording.joined');
  if (recording) return { ...state, recordings: [...state.recordings.filter((r) => r.recordingId !== recording.recordingId), { ...recording, ...stamp, ...fresh }] };
  const noted = is('witness.noted');
  if (noted) {
    const { of, ...note } = noted;
    return changeWitness(state, of, { note: { ...note, ...stamp } });
  }
  const withdrawn = is('witness.withdrawn');
  if (withdrawn) return changeWitness(state, withdrawn.of, { withdrawn: { because: withdrawn.because, ...stamp } });
  const measured = is('angiogram.measured');
  if (measured) return { ...state, angiograms: [...state.angiograms.filter((a) => a.angiogramId !== measured.angiogramId), { ...measured, ...stamp, ...fresh }] };
  const sealed = is('grade.sealed');
  if (sealed) return { ...state, grades: [...state.grades, { ...sealed, ...stamp }] };
  const readers = is('readers.present');
  if (readers) return { ...state, readers: { ...readers, ...stamp } };
  const shown = is('verdict.shown');
  if (shown) return { ...state, shown: [...state.shown, { ...shown, ...stamp }] };
  const entered = is('result.entered');
  if (entered) {
    const { [entered.field]: _was, ...others } = state.entries;
    return { ...state, entries: entered.value === null ? others : { ...others, [entered.field]: { value: entered.value, ...stamp } } };
  }
  const decided = is('result.decided');
  if (decided) return { ...state, decided: [...state.decided, { ...decided, ...stamp }] };
  return foldEcg(foldEcho(state, event, stamp), event, stamp);
}

function foldEcho(state: ResultState, event: CaseEvent, stamp: Stamped): ResultState {
  const is = <K extends ResultEventKind>(kind: K): ResultEventData[K] | null => ((event.kind as CaseEventKind) === kind ? (event.data as ResultEventData[K]) : null);
  const begun = is('echo.begun');
  if (begun && !state.echoes.some((e) => e.echoId === begun.echoId)) return { ...state, echoes: [...state.echoes, { ...begun, ...stamp, files: [], entries: {}, note: null, withdrawn: null }] };
  const change = (echoId: string, to: (echo: EchoLine) => EchoLine): ResultState => ({ ...state, echoes: state.echoes.map((e) => (e.echoId === echoId ? to(e) : e)) });
  const joined = is('echo.joined');
  if (joined) {
    const { echoId, fields, halfWidths, ...file } = joined;
    return change(echoId, (echo) => {
      const read = Object.entries(fields).filter(([field]) => echo.entries[field]?.from !== 'person').map(([field, value]): [string, EchoEntry] => [field, { value, from: 'report', trace: null, halfWidth: halfWidths?.[field] ?? null, ...stamp }]);
      return { ...echo, files: [...echo.files.filter((f) => f.blobSha256 !== file.blobSha256), { ...file, ...stamp }], entries: { ...echo.entries, ...Object.fromEntries(read) } };
    });
  }
  const entered = is('echo.entered');
  if (!entered) return state;
  return change(entered.echoId, (echo) => {
    const { [entered.field]: _was, ...others } = echo.entries;
    return { ...echo, entries: entered.value === null ? others : { ...others, [entered.field]: { value: entered.value, from: 'person', trace: entered.trace, halfWidth: entered.halfWidth ?? null, ...stamp } } };
  });
}

function foldEcg(state: ResultState, event: CaseEvent, stamp: Stamped): ResultState {
  const kind: CaseEventKind = event.kind;
  if (kind !== 'ecg.entered' && kind !== 'ecg.joined') return state;
  const { moment } = event.data as ResultEventData['ecg.entered' | 'ecg.joined'];
  const was = state.ecgs[moment] ?? { entered: null, joined: null };
  const line: EcgLine = kind === 'ecg.entered' ? { ...was, entered: readWords(event.data as ResultEventData['ecg.entered'], stamp) } : { ...was, joined: dropMoment(event.data as ResultEventData['ecg.joined'], stamp) };
  return { ...state, ecgs: { ...state.ecgs, [moment]: line } };
}
const readWords = ({ words }: ResultEventData['ecg.entered'], stamp: Stamped): EcgLine['entered'] => words && { words, ...stamp };
function dropMoment({ moment: _moment, ...joined }: ResultEventData['ecg.joined'], stamp: Stamped): EcgLine['joined'] {
  return { ...joined, ...stamp };
}

/** `of` names one witness of any kind; ids are unique over kinds. */
function changeWitness(state: ResultState, of: string, change: Partial<Witnessed>): ResultState {
  return {
    ...state,
    recordings: state.recordings.map((r) => (r.recordingId === of ? { ...r, ...change } : r)),
    echoes: state.echoes.map((e) => (e.echoId === of ? { ...e, ...change } : e)),
    angiograms: state.angiograms.map((a) => (a.angiogramId === of ? { ...a, ...change } : a)),
  };
}
