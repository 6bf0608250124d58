import type { CaseEvent, CaseEventKind } from '../../core/case/case-events.ts';
import { foldCase, type CaseState } from '../../core/case/fold-case.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { CHAIN_START, hashEvent } from '../storage/hash-chain.ts';
import type { CaseFileFailureCode } from './case-file-types.ts';
import { CASE_HEAD, checkEventData, EVENT_LINE, type CaseHead } from './event-schemas.ts';

export const MOST_LINE_BYTES = 1 << 20;
const MOST_DEPTH = 60;
const NEWLINE = 10;
const UTF8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

export const failBroken = (what: string, evidence: Readonly<Record<string, string | number>> = {}) => fail('chain-broken' as const, formatText(CASE_FILE_EN, 'broken', { what }), CASE_FILE_EN.brokenNext, evidence);

export interface ParsedCase {
  readonly head: CaseHead;
  readonly events: readonly CaseEvent[];
  readonly state: CaseState;
  /** Of events.ndjson, up to the end of the last acknowledged line. */
  readonly bytes: number;
  /** Behind it: written and never acknowledged. */
  readonly tailBytes: number;
}

/** Text, or null where the bytes are no UTF-8. */
export function decodeText(bytes: Uint8Array): string | null {
  try {
    return UTF8.decode(bytes);
  } catch {
    return null;
  }
}

/** JSON of at most so many levels: what folds and hashes walks down, and a file of brackets alone would have no end. */
export function parseShallow(text: string): unknown {
  let [depth, isText] = [0, false];
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i);
    if (isText) {
      if (c === 92) i++; // the sign behind a backslash
      else if (c === 34) isText = false;
    } else if (c === 34) isText = true;
    else if (c === 91 || c === 123) {
      if (++depth > MOST_DEPTH) return undefined;
    } else if (c === 93 || c === 125) depth--;
  }
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return undefined;
  }
}

/** One line of events.ndjson, canonical. The case's id is left out: it stands in case.json and in every hash. */
export function formatEventLine({ seq, at, by, kind, data, supersedes, prevSha256, sha256 }: CaseEvent): string {
  return `${formatCanonical({ seq, at, by, kind, data, ...(supersedes === null ? {} : { supersedes }), prevSha256, sha256 })}\n`;
}
export const formatHead = (head: CaseHead): string => `${formatCanonical(head)}\n`;

/**
 * case.json.
 * Fails     case-not-case, case-other-format
 */
export function parseHead(bytes: Uint8Array): Result<CaseHead, CaseFileFailureCode> {
  const content = parseShallow(decodeText(bytes) ?? '');
  const parsed = CASE_HEAD.safeParse(content);
  if (parsed.success) return succeed(parsed.data);
  const found = content !== null && typeof content === 'object' ? (content as { format?: unknown }).format : undefined;
  if (typeof found === 'string' && /^trinadir\.case\/\d{1,4}$/.test(found) && found !== 'trinadir.case/1') return fail('case-other-format', formatText(CASE_FILE_EN, 'other', { found }), CASE_FILE_EN.otherNext, { found });
  return fail('case-not-case', formatText(CASE_FILE_EN, 'notCase', { what: 'its case.json does not read' }), CASE_FILE_EN.notCaseNext);
}

/**
 * The log up to what was acknowledged: every line in its one form, whole, of a known kind, linked to the line in front of
 * it, and the last one the one that case.json names. What stands behind it does not count.
 * Fails     chain-broken (names the first place)
 */
export function parseEvents(head: CaseHead, log: Uint8Array): Result<ParsedCase, CaseFileFailureCode> {
  const events: CaseEvent[] = [];
  let [at, prevSha256, prevAt] = [0, CHAIN_START, ''];
  for (let seq = 1; seq <= head.seq; seq++) {
    const end = log.indexOf(NEWLINE, at);
    if (end < 0) return failBroken(at < log.length ? `event ${seq} is torn, and it was acknowledged` : `its log ends at event ${seq - 1}, and event ${head.seq} was acknowledged`, { seq });
    const event = end - at <= MOST_LINE_BYTES ? readLine(head.caseId, log.subarray(at, end)) : 'is too long';
    if (typeof event === 'string') return failBroken(`event ${seq} ${event}`, { seq });
    const link = event.seq !== seq ? `event ${seq} is out of its place` : event.prevSha256 !== prevSha256 ? `event ${seq} is not linked to the one in front of it` : event.at < prevAt ? `event ${seq} is older than the one in front of it` : null;
    if (link !== null) return failBroken(link, { seq });
    if ((event.kind === 'case.opened') !== (seq === 1)) return failBroken(`event ${seq}: a case is opened once, by its first event`, { seq });
    if (event.supersedes !== null && event.supersedes >= seq) return failBroken(`event ${seq} supersedes no earlier one`, { seq });
    events.push(event);
    [at, prevSha256, prevAt] = [end + 1, event.sha256, event.at];
  }
  if (prevSha256 !== head.sha256) return failBroken(`event ${head.seq} is not the one that was acknowledged`, { seq: head.seq });
  return succeed({ head, events, state: foldCase(head.caseId, events), bytes: at, tailBytes: log.length - at });
}

/** The event of one line, or what is wrong with it. */
function readLine(caseId: string, bytes: Uint8Array): CaseEvent | string {
  const text = decodeText(bytes);
  const parsed = EVENT_LINE.safeParse(text === null ? undefined : parseShallow(text));
  if (text === null || !parsed.success) return 'does not read';
  const { seq, at, by, kind, data, supersedes = null, prevSha256, sha256 } = parsed.data;
  const issue = checkEventData(kind, data);
  if (issue) return `does not fit at ${issue.field}`;
  const event: CaseEvent = { caseId, seq, at, by, kind: kind as CaseEventKind, data, supersedes, prevSha256, sha256 };
  if (hashEvent(event) !== sha256) return 'was changed: its hash differs';
  // A second form of the same content (a key twice, blanks) could be read as another one elsewhere.
  return `${text}\n` === formatEventLine(event) ? event : 'is not in its one form';
}
