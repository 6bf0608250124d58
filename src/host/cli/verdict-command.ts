import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { SITUATION_EN } from '../../core/text/situation-en.ts';
import type { RuleSet } from '../../core/device/device-types.ts';
import { assembleVerdict } from '../../core/verdict/assemble-verdict.ts';
import { composeVerdict, type VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import { describeVerdict } from '../../core/verdict/describe-verdict.ts';
import { readSituation } from '../../core/verdict/read-situation.ts';
import { WHOLE_TRAINING_RULES } from '../../core/verdict/result-rules.ts';
import { parseSituation } from '../../formats/tables/parse-situation.ts';
import { readNowMs } from '../case-file/case-clock.ts';
import type { OpenedCase } from '../case-file/case-file-types.ts';
import { loadCaseVerdict } from '../case-file/load-case-verdict.ts';
import { openCase } from '../case-file/open-case.ts';
import { readUpTo } from '../case-file/open-case-folder.ts';
import type { StoredPlace } from '../case-file/open-stored-case.ts';
import { decodeText, parseShallow } from '../case-file/parse-case.ts';
import { refuse, tellNotes, type CaseOptions } from './case-command-parts.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { readTable } from './plan-files.ts';

export interface VerdictOptions extends CaseOptions, StoredPlace {
  readonly named: string;
  /** Signed rules for a described situation. */
  readonly rules?: string | undefined;
}
const MOST_SITUATION_BYTES = 1 << 20;

/** `trinadir verdict CASE`: what the three witnesses of a case, or of a described situation, say together. */
export async function runVerdictCommand(options: VerdictOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>): number => refuse(failure, 'verdict', options, io);
  const stamp = readStamp();
  if (!stamp.ok) return stop(stamp.failure);
  const situation = await readSituationFile(options.named);
  if (situation !== null) {
    const answered = situation.ok ? await answerSituation(situation.value, options.rules) : situation;
    return answered.ok ? show(answered.value, (line) => line, options, io) : stop(answered.failure);
  }
  if (options.rules !== undefined) return stop(fail('option-unfit', SITUATION_EN.rulesUnfit, SITUATION_EN.rulesUnfitNext).failure);
  const opened = await openCase(options.named, options);
  if (!opened.ok) return stop(opened.failure);
  try {
    const noted = await opened.value.note('case.read', { what: 'verdict' });
    if (!noted.ok) return stop(noted.failure);
    const nowAt = [new Date(readNowMs()).toISOString(), opened.value.state.changedAt].sort().at(-1)!;
    const loaded = await loadCaseVerdict(opened.value, nowAt);
    if (!loaded.ok) return stop(loaded.failure);
    tellNotes(opened.value.notes, options, io);
    return show({ title: null, answer: composeVerdict(assembleVerdict(loaded.value)), isTraining: loaded.value.state.training }, makeNamer(opened.value), options, io);
  } finally {
    await opened.value.close();
  }
}

/** null: no JSON file, so a case. A zip begins otherwise and is not read here. */
async function readSituationFile(named: string): Promise<Result<unknown, string> | null> {
  if (!/\.json$/i.test(named)) return null;
  const bytes = await readUpTo(named, MOST_SITUATION_BYTES);
  const text = bytes && decodeText(bytes);
  const content = text === null || text === undefined ? undefined : parseShallow(text);
  if (content === undefined) return fail('file-not-json', SITUATION_EN.notJson, SITUATION_EN.wrongNext);
  return succeed(content);
}

interface Shown {
  readonly title: string | null;
  readonly answer: VerdictAnswer;
  readonly isTraining: boolean;
}
async function answerSituation(content: unknown, rulesPath: string | undefined): Promise<Result<Shown, string>> {
  const parsed = parseSituation(content);
  if (!parsed.ok) return parsed;
  const given = rulesPath === undefined ? null : await readTable(rulesPath, 'rules');
  if (given && !given.ok) return given;
  const rules: RuleSet | null = given?.value.content ?? (parsed.value.training ? WHOLE_TRAINING_RULES : null);
  return succeed({ title: parsed.value.title, answer: composeVerdict(readSituation(parsed.value, rules)), isTraining: parsed.value.training });
}

/** Ids of persons become what they are called, in words alone: the JSON answer keeps the ids of the log. */
function makeNamer({ events, state, nameOf }: OpenedCase): (line: string) => string {
  const ids = [...new Set([...events.map((e) => e.by), ...(state.result.readers?.personIds ?? [])])].filter((id) => nameOf(id) !== id).sort((a, b) => b.length - a.length);
  return (line) => ids.reduce((text, id) => text.replaceAll(id, nameOf(id)), line);
}

/** A verdict that is hidden, or that no witness may speak for, is no answer (exit 3); it is told all the same. */
function show({ title, answer, isTraining }: Shown, name: (line: string) => string, options: VerdictOptions, io: CommandIo): number {
  if (options.json === true) io.out(`${JSON.stringify(isTraining && !answer.isTraining ? { ...answer, isTraining } : answer)}\n`);
  else if (options.quiet !== true) {
    const lines = [
      ...(isTraining || answer.isTraining ? [SITUATION_EN.training] : []), ...(title === null ? [] : [formatText(SITUATION_EN, 'titled', { title })]),
      ...describeVerdict(answer).map(name), HOUSE_EN.caution,
    ];
    io.out(`${lines.join('\n')}\n`);
  }
  return answer.verdict === null || answer.verdict.word === 'CANNOT SAY' ? EXIT.refused : EXIT.answered;
}
