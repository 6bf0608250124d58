import type { CaseEvent, CaseEventData } from '../../core/case/case-events.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { checkGradesInLog, type ShownAnswer } from '../../core/verdict/check-grades-in-log.ts';
import { parseShallow } from './parse-case.ts';

/**
 * Whether nobody was shown the verdict, or others' grades, before their own (check-grades-in-log.ts).
 * Fails     grade-breach (names the first), and as the documents
 */
export async function checkShownGrades(events: readonly CaseEvent[], readDocument: (sha256: string) => Promise<Result<string, string>>): Promise<Result<null, string>> {
  const shown: ShownAnswer[] = [];
  for (const { seq, data } of events.filter((e) => e.kind === 'verdict.shown')) {
    const read = await readDocument((data as CaseEventData['verdict.shown']).answerSha256);
    if (!read.ok) return read;
    const content = parseShallow(read.value);
    const said = content !== null && typeof content === 'object' ? (content as { readonly basedOnSeq?: unknown }).basedOnSeq : undefined;
    shown.push({ seq, basedOnSeq: typeof said === 'number' && said < seq ? said : null });
  }
  const [breach] = checkGradesInLog(events, shown);
  return breach ? fail('grade-breach', formatText(CASE_FILE_EN, 'gradeBreach', { seq: breach.seq, text: breach.text }), CASE_FILE_EN.gradeBreachNext, { seq: breach.seq }) : succeed(null);
}
