import { openLivePressure, type LiveBeat, type LivePressure } from '../../core/haemodynamics/live-pressure.ts';
import { measurePressure } from '../../core/haemodynamics/measure-pressure.ts';
import type { PressureAnswer, PressureInputs } from '../../core/haemodynamics/pressure-types.ts';
import { fail, type Failure } from '../../core/result.ts';
import { PRESSURE_EN } from '../../core/text/pressure-en.ts';
import type { Fact, FactStamp } from '../../core/units/fact.ts';
import { makeCsvFeed, type CsvFeedPart } from '../../formats/waveform/make-csv-feed.ts';
import { parseChannelMap } from '../../formats/waveform/parse-channel-map.ts';
import { readRecording } from '../recordings/read-recording.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { formatLiveBeat, formatPressure } from './format-pressure.ts';
import { reportFailure } from './report-failure.ts';

export interface PressureOptions {
  readonly path: string;
  readonly channels?: string | undefined;
  readonly baseline?: string | undefined;
  readonly output?: number | undefined;
  readonly line?: PressureInputs['line'];
  readonly breathing?: 'spontaneous' | 'ventilated' | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
  /** Standard input unless a test hands its own. */
  readonly input?: AsyncIterable<Uint8Array> | undefined;
}

/** `trinadir pressure FILE`: what a recording of pressures says; FILE `-`: beat by beat from CSV on standard input. */
export async function runPressureCommand(options: PressureOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>, code: number): number => {
    reportFailure(failure, 'pressure', { json: options.json === true }, io);
    return code;
  };
  const stamp = readStamp();
  if (!stamp.ok) return stop(stamp.failure, EXIT.usage);
  const inputs: PressureInputs = { breathing: options.breathing, cardiacOutputLPerMin: options.output, line: options.line };
  if (options.path === '-') {
    if (options.baseline !== undefined) return stop(fail('option-unfit', PRESSURE_EN.liveUnfit, PRESSURE_EN.liveUnfitNext).failure, EXIT.usage);
    return followPressure(options, inputs, io, stop);
  }
  const before = options.baseline === undefined ? undefined : readBaseline(options.baseline, options.channels, stamp.value);
  if (before && !before.ok) return stop(before.failure, EXIT.refused);
  const recording = readRecording(options.path, options.channels);
  if (!recording.ok) return stop(recording.failure, EXIT.refused);
  const answer = measurePressure(recording.value, { ...inputs, baselineArIndex: before?.value }, stamp.value);
  if (!answer.ok) return stop(answer.failure, EXIT.refused);
  io.out(options.json ? `${JSON.stringify(answer.value)}\n` : formatPressure(answer.value));
  return isAnswered(answer.value) ? EXIT.answered : EXIT.refused;
}

function readBaseline(path: string, channels: string | undefined, stamp: FactStamp): { readonly ok: true; readonly value: Fact } | { readonly ok: false; readonly failure: Failure<string> } {
  const recording = readRecording(path, channels);
  if (!recording.ok) return recording;
  const answer = measurePressure(recording.value, {}, stamp);
  return answer.ok ? { ok: true, value: answer.value.leak.arIndex } : answer;
}

/** Only refused facts is an input refused (contract, exit codes). */
function isAnswered({ aortic, ventricular }: PressureAnswer): boolean {
  return [...Object.values(aortic), ...Object.values(ventricular)].some((fact: Fact) => fact.value !== null);
}

/** Lines as they come; each beat is answered when the next one has begun. */
async function followPressure(options: PressureOptions, inputs: PressureInputs, io: CommandIo, stop: (failure: Failure<string>, code: number) => number): Promise<number> {
  const choices = options.channels === undefined ? null : parseChannelMap(options.channels);
  if (choices && !choices.ok) return stop(choices.failure, EXIT.usage);
  const feed = makeCsvFeed({ choices: choices?.value ?? [] });
  let live: LivePressure | null = null;
  let beats = 0;
  const take = (part: CsvFeedPart): Failure<string> | null => {
    for (const f of part.findings) io.err(options.json ? `${JSON.stringify({ finding: f })}\n` : `${f.text}\n`);
    if (live === null) {
      if (!part.channels.some((c) => (c.kind === 'aortic' || c.kind === 'ventricular') && c.unit === 'mm[Hg]')) {
        return fail('no-pressure-channel', PRESSURE_EN['no-pressure-channel'], PRESSURE_EN['no-pressure-channel-next'], { channels: part.channels.length }).failure;
      }
      live = openLivePressure(part, inputs);
    }
    const stamp = readStamp();
    if (!stamp.ok) return stamp.failure;
    for (const beat of live.append(part.samples, stamp.value)) {
      beats++;
      io.out(writeBeat(beat, options.json === true));
    }
    return null;
  };
  for await (const bytes of options.input ?? process.stdin) {
    const part = feed.append(bytes);
    if (!part.ok) return stop(part.failure, EXIT.refused);
    const failure = part.value ? take(part.value) : null;
    if (failure) return stop(failure, EXIT.refused);
  }
  const last = feed.end();
  if (!last.ok) return stop(last.failure, EXIT.refused);
  const failure = last.value ? take(last.value) : null;
  if (failure) return stop(failure, EXIT.refused);
  if (beats > 0) return EXIT.answered;
  return stop(fail('no-beats', PRESSURE_EN['no-beats'], PRESSURE_EN['no-beats-next']).failure, EXIT.refused);
}

function writeBeat(live: LiveBeat, isJson: boolean): string {
  if (!isJson) return `${formatLiveBeat(live)}\n`;
  const { beat, over, format } = live;
  return `${JSON.stringify({ format, ...beat, over })}\n`;
}
