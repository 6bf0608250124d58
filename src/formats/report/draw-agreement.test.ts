import { describe, expect, test } from 'vitest';
import { normalAt } from '../../core/math/random.ts';
import { measureAgreement } from '../../core/root/compare-readings.ts';
import { drawAgreement } from './draw-agreement.ts';

const draw = (pairs: readonly { readonly a: number; readonly b: number }[], unit = 'mm'): string => {
  const answer = measureAgreement(pairs);
  if (!answer.ok) throw new Error(answer.failure.code);
  return drawAgreement(answer.value, { measure: 'ring perimeter', unit }, { id: 'agreement', isTraining: true });
};
const PAIRS = Array.from({ length: 24 }, (_, i) => ({ a: 76 + 4 * normalAt(3, i, 0) + 0.6 + 1.1 * normalAt(3, i, 1), b: 76 + 4 * normalAt(3, i, 0) }));

describe('drawAgreement', () => {
  test('draws one dot a case, bias and both limits', async () => {
    const svg = draw(PAIRS);
    expect(svg.match(/<circle/g)).toHaveLength(24);
    expect(svg.match(/class="cusp-L"/g)).toHaveLength(2);
    await expect(svg).toMatchFileSnapshot('./__snapshots__/agreement.svg');
  });
  test('places every dot inside the frame', () => {
    for (const [, cx, cy] of draw(PAIRS).matchAll(/cx="([\d.]+)" cy="([\d.]+)"/g)) {
      expect(Number(cx) > 62 && Number(cx) < 470 && Number(cy) > 24 && Number(cy) < 286).toBe(true);
    }
  });
  test('draws cases that are all alike without a number that is none', () => {
    expect(draw([{ a: 10, b: 10 }, { a: 10, b: 10 }, { a: 10, b: 10 }], 'mm²')).not.toMatch(/NaN|Infinity|–</);
  });
});
