import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { VERDICT_ENTRY_EN } from '../text/verdict-entry-en.ts';
import { formatInstant } from '../units/iso-time.ts';
import type { VerdictAnswer } from '../verdict/compose-verdict.ts';
import type { RemedyRow } from '../verdict/remedy-board.ts';
import { WITNESS_KINDS } from '../verdict/verdict-types.ts';
import type { RoomEntry } from './room-types.ts';

export type VerdictEntry = Extract<RoomEntry, { is: 'verdict' }>;
/** Bounds of the room's log (room-schemas.ts), signs. */
const MOST_DETAIL = 200;
const MOST_NEXT = 300;

/**
 * The verdict as an entry of the room's log, for the wall. What the wall cannot say in few words stays in the answer that
 * `answerSha256` names. Texts beyond the log's bounds end at a word with "…".
 * Shape     pure; null while the gate is closed: a verdict that nobody may see is put on no wall (job.md, D43, E11)
 */
export function makeVerdictEntry({ verdict, remedies, waiting, next, roundAt }: VerdictAnswer, answerSha256: string): VerdictEntry | null {
  if (verdict === null) return null;
  const witnesses = WITNESS_KINDS.flatMap((kind): VerdictEntry['witnesses'] => {
    const interval = verdict.speaking.find((w) => w.kind === kind)?.interval;
    if (interval) return [{ kind, low: interval[0], high: interval[1] }];
    return verdict.silent.some((w) => w.kind === kind) ? [{ kind, low: null, high: null }] : [];
  });
  return {
    is: 'verdict', answerSha256, word: verdict.word, side: verdict.side, witnesses, roundAt,
    isUnverified: verdict.decisionLine?.status === 'M' || waiting.isUnverified || verdict.speaking.some((w) => w.isUnverified === true),
    remedies: (remedies ?? []).map((row) => ({ code: row.code, state: row.state, detail: cutAtWord(describeRow(row, waiting.state === 'running'), MOST_DETAIL) })),
    // A timer that has run out, or that cannot run, is none.
    waitUntil: waiting.state === 'running' && waiting.dueMs !== null ? formatInstant(waiting.dueMs) : null, next: cutAtWord(next, MOST_NEXT),
  };
}

/**
 * What speaks against it first, whatever its state; then what closes it or is not known; then its detail. That the leak is not
 * settled is common to most rows and comes last. The time left to wait is not said: it would stand still, and `waitUntil` has it.
 */
function describeRow(row: RemedyRow, isWaitRunning: boolean): string {
  const against = row.contraSigns.filter((c) => c.isPresent === true).map((c) => findWords('', c.text) ?? c.text.replace(/[:.]$/, ''));
  const closed = row.mustBeTrue.find((c) => c.holds === false);
  const unknown = row.mustBeTrue.filter((c) => c.holds === null).sort((a, b) => Number(a.text === VERDICT_EN.mustLeak) - Number(b.text === VERDICT_EN.mustLeak));
  return [
    against.length > 0 ? formatText(VERDICT_ENTRY_EN, 'against', { list: [...new Set(against)].join(', ') }) : '',
    ...(row.state === 'closed' && closed ? [findWords('not-', closed.text) ?? row.limit] : []),
    ...(row.state === 'cannot say' ? unknown.map((c) => findWords('ask-', c.text) ?? c.text.replace(/[:.]$/, '?')) : []),
    row.code === 'wait' && isWaitRunning ? '' : row.detail,
  ].filter((part) => part !== '').join(' ');
}

/** Conditions and signs come with their sentence; a few words of each stand for it. Null: a sentence without such words. */
const KEY_OF: ReadonlyMap<string, string> = new Map(Object.entries(VERDICT_EN).flatMap(([key, sentence]) => (/^(must|sign)[A-Z]/.test(key) ? [[sentence, key] as const] : [])));
function findWords(prefix: '' | 'not-' | 'ask-', sentence: string): string | null {
  const key = `${prefix}${KEY_OF.get(sentence) ?? ''}`;
  return key in VERDICT_ENTRY_EN ? VERDICT_ENTRY_EN[key as keyof typeof VERDICT_ENTRY_EN] : null;
}

/** At most so many signs (UTF-16, as the schema counts), whole words, "…" where something is missing. */
export function cutAtWord(text: string, most: number): string {
  if (text.length <= most) return text;
  const head = text.slice(0, most - 1);
  const space = /\s/.test(text[most - 1]!) ? head.length : head.search(/\s\S*$/);
  // One word alone that is too long is broken, never in the middle of a sign.
  const kept = space > 0 ? head.slice(0, space) : head.replace(/[\uD800-\uDBFF]$/, '');
  return `${kept.replace(/[\s,;:]+$/, '')}${VERDICT_ENTRY_EN.more}`;
}
