import { z } from 'zod';
import { checkEntryKind } from '../../core/case/entry-kinds.ts';
import { findEchoField } from '../../core/echo/echo-fields.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { SITUATION_EN } from '../../core/text/situation-en.ts';
import { checkResultEntry } from '../../core/verdict/result-fields.ts';
import { SITUATION_FINDINGS, type Situation } from '../../core/verdict/situation-types.ts';
import { readIssue } from './read-issue.ts';

export type SituationFailureCode = 'situation-invalid';

const text = (most: number) => z.string().min(1).max(most);
const instant = z.iso.datetime({ precision: 3 });
const measured = (low: number, high: number) => z.strictObject({ value: z.number().min(low).max(high), halfWidth95: z.number().min(0).max(high - low) });
const mmHg = measured(-50, 350);
const grade = z.number().min(0).max(4);
const rate = z.number().min(10).max(350).nullable();
const taken = { by: text(80), at: instant, loadingNote: z.string().max(200).nullable() };
const value = z.union([z.string().max(400), z.number(), z.boolean()]);
const SITUATION = z.strictObject({
  format: z.literal('trinadir.situation/1'), title: text(200), training: z.boolean(), nowAt: instant, releasedAt: instant.nullable(), manoeuvreAt: instant.optional(),
  valve: z.strictObject({ kind: z.enum(['self-expanding', 'balloon-expandable']), waitAllowed: z.boolean().optional(), balloonMaxMm: z.number().min(5).max(60).optional() }),
  present: z.array(text(80)).max(20),
  grades: z.array(z.strictObject({ by: text(80), at: instant, of: z.enum(['pressure', 'echo', 'angiogram']).optional(), low: grade, high: grade }).refine((g) => g.low <= g.high, { path: ['high'] })).max(60),
  pressures: z.strictObject({
    ...taken, systolic: mmHg, diastolic: mmHg, mean: mmHg.optional(), endDiastolic: mmHg.optional(), ratePerMin: measured(10, 350),
    rhythm: z.enum(['regular', 'irregular', 'premature beats', 'paced fast', 'cannot say']), notchShare: measured(0, 1).optional(), arIndexBefore: measured(-100, 100).optional(),
    findings: z.array(z.enum(SITUATION_FINDINGS)).max(4).optional(),
  }).optional(),
  echo: z.strictObject({ ...taken, ratePerMin: rate, entries: z.record(z.string().max(60), value) }).optional(),
  angiogram: z.strictObject({ ...taken, ratePerMin: rate, ratio: measured(0, 5).nullable().optional(), grade: z.number().int().min(0).max(4).optional() }).optional(),
  balloonsMm: z.array(z.number().min(5).max(60)).max(40).optional(),
  root: z.strictObject({ ringDiameterMm: measured(5, 60), outflowPerimeterMm: measured(20, 200), junctionDiameterMm: measured(5, 80), outflowCalciumMm3: measured(0, 20_000).optional() }).optional(),
  entries: z.record(z.string().max(60), value).optional(),
});

/**
 * A described situation, from parsed JSON.
 * Units    mm[Hg], /min, mm
 * Fails    situation-invalid (names the first field; a field that is not known is not repeated)
 */
export function parseSituation(content: unknown): Result<Situation, SituationFailureCode> {
  const refuse = (field: string, problem: string) => fail('situation-invalid', formatText(SITUATION_EN, 'wrong', { field, problem }), SITUATION_EN.wrongNext, { field, problem });
  const parsed = SITUATION.safeParse(content);
  if (!parsed.success) {
    const { field, problem } = readIssue(parsed.error);
    return refuse(field.startsWith('echo.entries') || field.startsWith('entries') ? field.split('.').slice(0, field.startsWith('echo') ? 2 : 1).join('.') : field, problem);
  }
  for (const [id, v] of Object.entries(parsed.data.echo?.entries ?? {})) {
    const field = findEchoField(id);
    const problem = field === null ? 'field-unknown' : checkEntryKind(field, v);
    if (problem !== null) return refuse(field === null ? 'echo.entries' : `echo.entries.${id}`, problem);
  }
  for (const [id, v] of Object.entries(parsed.data.entries ?? {})) {
    const problem = checkResultEntry(id, v);
    if (problem !== null) return refuse(problem === 'field-unknown' ? 'entries' : `entries.${id}`, problem);
  }
  return succeed(parsed.data as Situation);
}
