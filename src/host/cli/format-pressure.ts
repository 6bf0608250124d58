import type { LiveBeat } from '../../core/haemodynamics/live-pressure.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { PRESSURE_EN } from '../../core/text/pressure-en.ts';
import type { Fact } from '../../core/units/fact.ts';

/** Value with its interval, for a person. */
function say(fact: Fact, digits = 0): string {
  if (fact.value === null || fact.low === null || fact.high === null) return PRESSURE_EN.refused;
  const text = `${fact.value.toFixed(digits)} (${fact.low.toFixed(digits)} to ${fact.high.toFixed(digits)})`;
  return fact.status === 'doubtful' ? formatText(PRESSURE_EN, 'doubtful', { text }) : text;
}
const short = (fact: Fact): string => (fact.value === null ? '-' : fact.value.toFixed(0));

/** Answer - Why - Doubt - Next. */
export function formatPressure(a: PressureAnswer): string {
  const { aortic, ventricular, gradients, leak, area, rhythm } = a;
  const aorta = formatText(PRESSURE_EN, 'aorta', { systolic: say(aortic.systolic), diastolic: say(aortic.diastolic), mean: say(aortic.mean) });
  const ventricle = formatText(PRESSURE_EN, 'ventricle', { systolic: say(ventricular.systolic), endDiastolic: say(ventricular.endDiastolic) });
  // Why gradients and indices are not said: a pressure that was never recorded is no finding of the signal.
  const lacks = ([[aortic.systolic, 'no-aortic-pressure'], [ventricular.systolic, 'no-ventricular-pressure']] as const).flatMap(([fact, key]) => (fact.reasons.some((r) => r.code === 'not-in-recording') ? [PRESSURE_EN[key]] : []));
  const unverified = area.hakkiCm2.value === null ? [] : area.hakkiCm2.reasons.filter((r) => r.code === 'hakki-unverified').map((r) => r.text);
  const doubts = [...lacks, ...a.quality.map((q) => (q.channel ? `${q.channel}: ${q.text}` : q.text)), ...unverified];
  const lines = [
    formatText(PRESSURE_EN, 'answer', { text: `${aorta}; ${ventricle} mmHg` }),
    formatText(PRESSURE_EN, 'gradient', { mean: say(gradients.meanMmHg), peakToPeak: say(gradients.peakToPeakMmHg), peak: say(gradients.peakInstantaneousMmHg), how: gradients.how === 'pullback' ? PRESSURE_EN.pullback : '' }),
    formatText(PRESSURE_EN, 'leak', { arIndex: say(leak.arIndex, 1), delta: say(leak.diastolicDeltaMmHg), adjusted: say(leak.hrAdjustedMmHg), dpt: say(leak.dptAdjusted, 1), ratio: say(leak.arIndexRatio, 2) }),
    ...(area.gorlinCm2.value !== null ? [formatText(PRESSURE_EN, 'area', { gorlin: say(area.gorlinCm2, 2), hakki: say(area.hakkiCm2, 2) })] : []),
    formatText(PRESSURE_EN, 'rhythm', { word: rhythm.word, rate: say(rhythm.ratePerMin), counted: rhythm.counted, beats: rhythm.beats }),
    ...(doubts.length > 0 ? doubts : [PRESSURE_EN.none]).map((text) => formatText(PRESSURE_EN, 'doubt', { text })),
    ...[...new Set([...(lacks.length > 0 ? [PRESSURE_EN['not-in-recording-next']] : []), ...a.quality.filter((q) => q.weight !== 'tell').map((q) => q.next)]), PRESSURE_EN.nextCompare].map((text) => formatText(PRESSURE_EN, 'next', { text })),
    HOUSE_EN.caution,
  ];
  return `${lines.join('\n')}\n`;
}

/** One line a beat. */
export function formatLiveBeat({ beat, over }: LiveBeat): string {
  const worst = over.quality.filter((q) => q.weight !== 'tell').map((q) => q.code);
  return [
    `${beat.t.toFixed(2)} s`, `Ao ${short(beat.systolic)}/${short(beat.diastolic)} (${short(beat.mean)})`, `LV ${short(beat.ventricularSystolic)}, ed ${short(beat.endDiastolic)}`,
    `mean gradient ${short(over.gradients.meanMmHg)}`, `AR index ${short(over.leak.arIndex)}`, `${short(over.rhythm.ratePerMin)}/min`, ...(beat.kind === 'counted' ? [] : [beat.kind]), ...worst,
  ].join('  ');
}
