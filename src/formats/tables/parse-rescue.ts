import { z } from 'zod';
import type { RescueCards } from '../../core/room/frozen-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { isIsoTime } from '../../core/units/iso-time.ts';
import { readIssue } from './read-issue.ts';

export type RescueFailureCode = 'rescue-invalid' | 'rescue-unsigned' | 'rescue-duplicate';

/** One action a line, short enough to stand on a wall (docs/methods/wall.md). */
export const MOST_LINE_LETTERS = 120;
const MOST_LINES = 40;
const line = z.string().trim().min(1).max(MOST_LINE_LETTERS).refine((text) => !/[\n\r\t]/.test(text), { message: 'one line' });
const RESCUE = z.strictObject({
  format: z.literal('trinadir.rescue/1'), hospital: z.string().max(200).default(''), signedBy: z.string().max(200).default(''), signedAt: z.string().max(40).default(''),
  signedSha256: z.string().regex(/^[0-9a-f]{64}$/).optional(),
  // The bundled cards carry it; what a person has signed is no default any more.
  isDefault: z.boolean().optional(),
  cards: z.array(z.strictObject({ id: z.string().regex(/^[a-z0-9-]{1,60}$/), title: z.string().trim().min(1).max(60), lines: z.array(line).min(1).max(MOST_LINES) })).min(1).max(30),
});

/**
 * rescue.json: the hospital's own rescue cards, from parsed JSON.
 * Fails     rescue-invalid (names the first field), rescue-unsigned, rescue-duplicate
 */
export function parseRescueCards(content: unknown): Result<RescueCards, RescueFailureCode> {
  const parsed = RESCUE.safeParse(content);
  if (!parsed.success) {
    const { field, problem } = readIssue(parsed.error);
    return fail('rescue-invalid', `The rescue cards do not fit at ${field} (${problem}).`, `Its fields are those of docs/tables.md: cards with id, title and lines, one action a line, at most ${MOST_LINE_LETTERS} letters.`, { field, problem });
  }
  const { isDefault: _isDefault, ...cards } = parsed.data;
  if (cards.signedBy.trim() === '' || !isIsoTime(cards.signedAt)) {
    return fail('rescue-unsigned', 'The rescue cards are not signed: signedBy or signedAt is missing or no date.', 'A person who answers for them runs trinadir sign on the file.');
  }
  const ids = cards.cards.map((c) => c.id);
  const twice = ids.find((id, i) => ids.indexOf(id) !== i);
  if (twice !== undefined) return fail('rescue-duplicate', `The card ${twice} stands twice.`, 'Keep one of them and sign again.', { id: twice });
  return succeed({ ...cards, isDefault: false });
}
