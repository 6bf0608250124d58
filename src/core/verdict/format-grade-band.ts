import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { showNumber } from './make-reason.ts';
import type { LeakInterval } from './verdict-types.ts';

/** "mild to moderate (1 to 2)". */
export function formatGradeBand([low, high]: LeakInterval): string {
  const [from, to] = [nameGrade(low), nameGrade(high)];
  const numbers = low === high ? showNumber(low) : formatText(VERDICT_EN, 'fromTo', { low: showNumber(low), high: showNumber(high) });
  return `${from === to ? from : formatText(VERDICT_EN, 'fromTo', { low: from, high: to })} (${numbers})`;
}

function nameGrade(grade: number): string {
  const whole = Math.floor(grade) as 0 | 1 | 2 | 3 | 4;
  return grade === whole ? VERDICT_EN[`grade-${whole}`] : formatText(VERDICT_EN, 'between', { low: VERDICT_EN[`grade-${whole}`], high: VERDICT_EN[`grade-${(whole + 1) as 1 | 2 | 3 | 4}`] });
}
