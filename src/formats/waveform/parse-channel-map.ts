import type { ChannelKind } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { readUnit } from './read-unit.ts';
import { MOST_CHANNELS, type ChannelChoice } from './waveform-types.ts';

const KINDS: Readonly<Record<string, ChannelKind>> = {
  aortic: 'aortic', ao: 'aortic', ventricular: 'ventricular', lv: 'ventricular', pulmonary: 'pulmonary', pa: 'pulmonary', ecg: 'ecg', other: 'other',
};
const HOW = 'Write it as NAME=KIND, parted by commas: AO=aortic,LV=ventricular,3=ecg; with a unit where the file has none: P1=aortic:kPa. Kinds are aortic, ventricular, pulmonary, ecg, other.';

/**
 * `--channels`: what each channel is, by its name in the file or its number from 1, with a unit after a colon.
 * Fails     channel-choice-invalid (names the entry by its number)
 */
export function parseChannelMap(text: string): Result<readonly ChannelChoice[], 'channel-choice-invalid'> {
  const choices: ChannelChoice[] = [];
  const entries = text.split(',').map((each) => each.trim()).filter((each) => each !== '');
  if (entries.length === 0 || entries.length > MOST_CHANNELS) return fail('channel-choice-invalid', `There are ${entries.length} channels named.`, HOW, { entries: entries.length });
  for (const [i, entry] of entries.entries()) {
    const parts = /^(.*)=\s*([a-zA-Z]+)\s*(?::\s*(\S+))?$/.exec(entry);
    const [channel, word, unit] = [parts?.[1]?.trim() ?? '', parts?.[2]?.toLowerCase() ?? '', parts?.[3] ?? null];
    if (channel === '' || !Object.hasOwn(KINDS, word)) return fail('channel-choice-invalid', `Entry ${i + 1} of the channels is no NAME=KIND with a known kind.`, HOW, { entry: i + 1 });
    const kind = KINDS[word]!;
    const quantity = unit === null ? null : (readUnit(unit)?.quantity ?? 'other');
    const isFit = quantity === null || kind === 'other' || quantity === (kind === 'ecg' ? 'voltage' : 'pressure');
    if (!isFit) return fail('channel-choice-invalid', `Entry ${i + 1} of the channels names a unit that does not fit its kind.`, 'Pressures are in mmHg, kPa, cmH2O or mbar; an ECG is in mV or uV.', { entry: i + 1 });
    choices.push({ channel, kind, unit });
  }
  return succeed(choices);
}
