import type { Channel, ChannelKind } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import { findChannelKind, isNamedPressure } from './find-channel-kind.ts';
import { cleanWord, readUnit, type SignalUnit } from './read-unit.ts';
import { MOST_CHANNELS, type ChannelChoice, type ChannelMapFailureCode, type RawChannel } from './waveform-types.ts';

const LONGEST_LABEL = 64;
const NAME_IT = 'Say what it is: --channels NAME=KIND, by the name in the file or the number of the channel.';

export interface ReadChannel {
  readonly label: string;
  readonly kind: ChannelKind;
  readonly unit: string;
  /** Brings a value of the file to `unit`. */
  readonly factor: number;
}

/**
 * Kind and unit of every channel: what a person says, else what the file says. Findings name channels by number.
 * Fails     channel-unknown (a choice names no channel, or two choices the same one)
 */
export function readChannels(
  raws: readonly Pick<RawChannel, 'label' | 'about' | 'unit'>[],
  choices: readonly ChannelChoice[],
): Result<{ readonly channels: readonly ReadChannel[]; readonly findings: readonly Reason[] }, ChannelMapFailureCode> {
  const chosen = matchChoices(raws, choices);
  if (!chosen.ok) return chosen;
  // An arterial line stands for the aorta only where no pressure is named after the aorta itself.
  const hasAorta = raws.some((raw, i) => {
    const found = chosen.value.has(i) ? null : findChannelKind(raw.label, raw.about, readUnit(raw.unit));
    return found?.kind === 'aortic' && !found.isArterialLine;
  });
  const claimed = new Set([...chosen.value.values()].map((choice) => choice.kind));
  const findings: Reason[] = [];
  const channels = raws.map((raw, i): ReadChannel => {
    const label = cleanWord(raw.label, LONGEST_LABEL) || `${i + 1}`;
    const choice = chosen.value.get(i);
    const unit = readUnit(choice?.unit ?? raw.unit);
    if (choice) return settleChannel(label, choice.kind, unit, i, findings);
    const found = findChannelKind(raw.label, raw.about, unit);
    if ((claimed.has(found.kind) && found.kind !== 'ecg') || (found.isArterialLine && hasAorta)) return settleChannel(label, 'other', unit, i, findings);
    if (found.isArterialLine) {
      findings.push({
        code: 'arterial-line', text: `Channel ${i + 1} is an arterial line; it is read as the aortic pressure.`,
        next: 'The wave is amplified on its way outward: the systolic pressure of a line lies above that of the aorta. Use a catheter in the ascending aorta for gradients.',
      });
    }
    if (found.kind === 'other' && unit?.quantity === 'pressure') {
      findings.push({ code: 'pressure-place-unknown', text: `Channel ${i + 1} is a pressure, but its name does not say of which place.`, next: NAME_IT });
    }
    if (found.kind === 'other' && unit !== null && unit.quantity !== 'pressure' && isNamedPressure(raw.label)) {
      findings.push({
        code: 'channel-unit-unsuited', text: `Channel ${i + 1} is named like a pressure, but its unit is none of a pressure; it is not read.`,
        next: 'Scale the transducer and export again, or say the unit: --channels NAME=KIND:mmHg.',
      });
    }
    return settleChannel(label, found.kind, unit, i, findings);
  });
  for (const kind of ['aortic', 'ventricular', 'pulmonary'] as const) {
    const count = channels.filter((each) => each.kind === kind).length;
    if (count > 1) findings.push({ code: 'channel-kind-repeated', text: `${count} channels are read as ${kind} pressure.`, next: NAME_IT });
  }
  return succeed({ channels, findings });
}

/** The samples in mm[Hg] or mV; scales in place what its reader handed over. */
export function makeChannels(
  raws: readonly RawChannel[],
  choices: readonly ChannelChoice[],
): Result<{ readonly channels: readonly Channel[]; readonly findings: readonly Reason[] }, ChannelMapFailureCode | 'channels-too-many'> {
  if (raws.length > MOST_CHANNELS) return failChannelCount(raws.length);
  const read = readChannels(raws, choices);
  if (!read.ok) return read;
  const findings: Reason[] = [];
  const channels = raws.map((raw, i): Channel => {
    const { label, kind, unit, factor } = read.value.channels[i]!;
    const { samples } = raw;
    let gaps = 0;
    for (let k = 0; k < samples.length; k++) {
      const value = samples[k]! * factor;
      // Beyond what a float32 holds nothing was measured.
      if (Number.isFinite(value)) samples[k] = value;
      else {
        samples[k] = NaN;
        gaps++;
      }
    }
    if (gaps > 0) {
      findings.push({
        code: 'samples-missing', text: `Channel ${i + 1} has no value at ${gaps} of its ${samples.length} samples.`,
        next: 'Beats that touch a gap are not measured; look at the recorder if there are many.',
      });
    }
    return { label, kind, unit, samplesPerS: raw.samplesPerS, startS: raw.startS, samples };
  });
  return succeed({ channels, findings: [...read.value.findings, ...findings] });
}

export function failChannelCount(channels: number): { readonly ok: false; readonly failure: Failure<'channels-too-many'> } {
  return fail('channels-too-many', `The recording has ${channels} channels; ${MOST_CHANNELS} are the most that are read.`, 'Export the pressures and the ECG alone.', { channels });
}

function settleChannel(label: string, kind: ChannelKind, unit: SignalUnit | null, i: number, findings: Reason[]): ReadChannel {
  if (unit !== null) return { label, kind, unit: unit.unit, factor: unit.factor };
  if (kind === 'other') return { label, kind, unit: '1', factor: 1 };
  const assumed = kind === 'ecg' ? 'mV' : 'mm[Hg]';
  findings.push({
    code: 'unit-assumed', text: `Channel ${i + 1} has no unit; ${kind === 'ecg' ? 'mV' : 'mmHg'} is assumed.`,
    next: 'Check a known value of it, or say the unit: --channels NAME=KIND:UNIT.',
  });
  return { label, kind, unit: assumed, factor: 1 };
}

function matchChoices(raws: readonly Pick<RawChannel, 'label'>[], choices: readonly ChannelChoice[]): Result<ReadonlyMap<number, ChannelChoice>, ChannelMapFailureCode> {
  const chosen = new Map<number, ChannelChoice>();
  for (const [n, choice] of choices.entries()) {
    const wanted = choice.channel.trim().toLowerCase();
    let at = raws.findIndex((raw) => cleanWord(raw.label, LONGEST_LABEL).toLowerCase() === wanted);
    if (at < 0 && /^\d{1,4}$/.test(wanted) && Number(wanted) >= 1 && Number(wanted) <= raws.length) at = Number(wanted) - 1;
    if (at < 0 || chosen.has(at)) {
      return fail('channel-unknown', at < 0 ? `Choice ${n + 1} names no channel of the recording, which has ${raws.length}.` : `Choice ${n + 1} names a channel that another choice names.`,
        'Name each channel once, as the file names it or by its number from 1.', { choice: n + 1, channels: raws.length });
    }
    chosen.set(at, choice);
  }
  return succeed(chosen);
}
