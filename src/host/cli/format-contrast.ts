import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { Fact } from '../../core/units/fact.ts';

function say(fact: Fact, digits: number): string {
  if (fact.value === null || fact.low === null || fact.high === null) return CONTRAST_EN.refused;
  const text = `${fact.value.toFixed(digits)} (${fact.low.toFixed(digits)} to ${fact.high.toFixed(digits)})`;
  return fact.status === 'doubtful' ? formatText(CONTRAST_EN, 'doubtful', { text }) : text;
}
const short = (fact: Fact, digits = 0): string => (fact.value === null ? '-' : fact.value.toFixed(digits));

/** Answer - Why - Doubt - Next. */
export function formatContrast(a: ContrastAnswer): string {
  const { window, mask } = a;
  const lines = [
    formatText(CONTRAST_EN, 'answer', { text: formatText(CONTRAST_EN, 'ratio', { ratio: say(a.ratio, 3), cycles: window ? short(window.cycles, 1) : '-' }) }),
    formatText(CONTRAST_EN, 'areas', { aorta: short(a.aorta.area, 2), outflow: short(a.outflow.area, 3), aortaPeak: short(a.aorta.peak, 2), outflowPeak: short(a.outflow.peak, 2) }),
    ...(window && mask ? [formatText(CONTRAST_EN, 'windowLine', { from: window.fromFrame, to: window.toFrame, frames: a.size.frames, maskFrom: mask.fromFrame, maskTo: mask.toFrame, rate: short(a.cycle.ratePerMin), by: a.cycle.by })] : []),
    formatText(CONTRAST_EN, 'motionLine', { percent: short(a.motion.largest, 1) }),
    ...(a.regions ? [formatText(CONTRAST_EN, 'regionsLine', { by: a.regions.by })] : []),
    ...(a.quality.length > 0 ? a.quality.map((q) => formatText(CONTRAST_EN, 'doubt', { text: q.text })) : [formatText(CONTRAST_EN, 'doubt', { text: CONTRAST_EN.none })]),
    ...[...new Set(a.quality.filter((q) => q.weight !== 'tell').map((q) => q.next)), CONTRAST_EN.nextCompare].map((text) => formatText(CONTRAST_EN, 'next', { text })),
    HOUSE_EN.caution,
  ];
  return `${lines.join('\n')}\n`;
}
