import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import { findLineEnd, HASH, readCells, readNumbers, skipLineEnd } from './csv-cells.ts';
import { findTimeGrid } from './find-time-grid.ts';
import { readChannels, type ReadChannel } from './make-channels.ts';
import { makeClock, makeRepeatFinding, MOST_REPEATED_SHARE } from './parse-csv-recording.ts';
import { readCsvHead, type CsvHead } from './read-csv-head.ts';
import type { ChannelMapFailureCode, CsvFailureCode, RecordingOptions } from './waveform-types.ts';

export type CsvFeedFailureCode = CsvFailureCode | ChannelMapFailureCode | 'recording-too-large' | 'channels-too-many' | 'sampling-rate-invalid';

/** What has arrived since the last call, on an even grid. */
export interface CsvFeedPart {
  readonly channels: readonly Omit<ReadChannel, 'factor'>[];
  readonly samplesPerS: number;
  /** Time in the file's own column of place 0. */
  readonly startS: number;
  /** Place of the first sample of this part, from 0; parts follow each other without a hole. */
  readonly place: number;
  /** One array for each channel, all of one length; mm[Hg] or mV, NaN where nothing was sent. */
  readonly samples: readonly Float32Array[];
  /** New since the last part. */
  readonly findings: readonly Reason[];
}

export interface CsvFeed {
  /** Takes bytes as they come, cut anywhere. null: nothing is whole yet. A failure is final: every later call repeats it. */
  append(bytes: Uint8Array): Result<CsvFeedPart | null, CsvFeedFailureCode>;
  /** The source has ended: takes a last line without its end. */
  end(): Result<CsvFeedPart | null, CsvFeedFailureCode>;
}

/** Rows are kept until they span so long, s: the sampling rate is then known. Later rows are handed on at once. */
const RATE_SPAN_S = 1;
const FEWEST_RATE_ROWS = 25;
const MOST_RATE_ROWS = 200_000;
/** Times are rounded to this or finer; a rate within what that explains of a whole number is that number, s. */
const TIME_GRAIN_S = 1e-3;
const LONGEST_PAUSE_S = 600;
const LONGEST_LINE = 1 << 16;
const MOST_BROKEN_SHARE = 0.05;
const FEWEST_BROKEN = 3;
/** Places that a row may lie off the grid before the grid is set anew. */
const MOST_OFF_PLACES = 1.5;

interface Grid {
  readonly samplesPerS: number;
  readonly startS: number;
  place: number;
  anchorPlace: number;
  anchorS: number;
  lastS: number;
}

/**
 * Reads a CSV recording while it is still being written. Same header, units and channel names as parseCsvRecording.
 *
 * Units     mm[Hg] and mV out; s
 * Fails     CsvFeedFailureCode: also a pause over 10 minutes (time-uneven), which is another recording
 * Source    docs/methods/recordings.md
 */
export function makeCsvFeed(options: RecordingOptions = {}): CsvFeed {
  let rest: Uint8Array = new Uint8Array(0);
  let head: CsvHead | null = null;
  let channels: readonly ReadChannel[] = [];
  let grid: Grid | null = null;
  let [clock, findings] = [null as ReturnType<typeof makeClock> | null, [] as Reason[]];
  let [rows, broken, repeated] = [0, 0, 0];
  let failure: Failure<CsvFeedFailureCode> | null = null;
  /** Rows of this call: time, then a value for each channel. */
  let pending: Float64Array[] = [];

  const stop = (bad: Failure<CsvFeedFailureCode>): { readonly ok: false; readonly failure: Failure<CsvFeedFailureCode> } => {
    failure = bad;
    [rest, pending] = [new Uint8Array(0), []];
    return { ok: false, failure: bad };
  };
  const take = (bytes: Uint8Array, isEnd: boolean): Result<CsvFeedPart | null, CsvFeedFailureCode> => {
    if (failure !== null) return { ok: false, failure };
    rest = rest.length === 0 ? bytes.slice() : joinBytes(rest, bytes);
    if (head === null) {
      const read = readCsvHead(rest, isEnd);
      if (read === null) return rest.length > 16 * LONGEST_LINE ? stop(failHead().failure) : succeed(null);
      if (!read.ok) return stop(read.failure);
      const named = readChannels(read.value.signals.map(({ label, unit }) => ({ label, about: '', unit })), options.choices ?? []);
      if (!named.ok) return stop(named.failure);
      head = read.value;
      channels = named.value.channels;
      findings.push(...named.value.findings);
      clock = head.timeScaleS === null ? makeClock() : null;
      rest = rest.subarray(head.bodyStart);
    }
    readLines(isEnd);
    if (broken > Math.max(FEWEST_BROKEN, MOST_BROKEN_SHARE * (rows + broken))) {
      return stop(fail('csv-rows-differ', `${broken} of ${rows + broken} rows have another number of cells than the header.`, 'Look at what the recorder sends; part the cells by semicolons where numbers have a decimal comma.', { broken }).failure);
    }
    leaveRepeatsOut();
    if (repeated > Math.max(FEWEST_BROKEN, MOST_REPEATED_SHARE * rows)) {
      return stop(fail('time-repeats', `${repeated} of ${rows} rows have the time of the row before.`, 'Send times with more decimals: each row needs its own.', { repeated }).failure);
    }
    if (pending.length === 0) return succeed(null);
    if (grid === null) {
      const span = pending.at(-1)![0]! - pending[0]![0]!;
      const isKnown = pending.length >= FEWEST_RATE_ROWS && (span >= RATE_SPAN_S || pending.length >= MOST_RATE_ROWS);
      if (!isKnown && !isEnd && !(span < 0)) return succeed(null);
      const found = findTimeGrid(Float64Array.from(pending, (row) => row[0]!), 1 << 24);
      if (!found.ok) return stop(found.failure);
      const whole = Math.round(found.value.samplesPerS);
      const isWhole = Math.abs(found.value.samplesPerS - whole) <= (found.value.samplesPerS * TIME_GRAIN_S) / Math.max(span, TIME_GRAIN_S);
      const startS = found.value.startS;
      grid = { samplesPerS: isWhole ? whole : found.value.samplesPerS, startS, place: -1, anchorPlace: 0, anchorS: startS, lastS: startS };
    }
    return placeRows(grid);
  };

  /** The first row of a time stays; how many were left out is said once a call. */
  const leaveRepeatsOut = (): void => {
    const before = pending.length;
    let lastS = grid === null || grid.place < 0 ? NaN : grid.lastS;
    pending = pending.filter(([atS]) => {
      const isNew = atS !== lastS;
      lastS = atS!;
      return isNew;
    });
    if (before === pending.length) return;
    repeated += before - pending.length;
    findings.push(makeRepeatFinding(before - pending.length, before));
  };

  const readLines = (isEnd: boolean): void => {
    const { form, columns, timeColumn, timeScaleS, signals } = head!;
    const cells = new Float64Array(columns);
    let from = 0;
    for (;;) {
      const to = findLineEnd(rest, from);
      // A carriage return at the very end may be half of a line end.
      const isWhole = to < rest.length && !(rest[to] === 13 && to + 1 === rest.length);
      if (!isWhole && !isEnd) break;
      if (to > from && rest[from] !== HASH) {
        const count = readNumbers(rest, from, to, form, cells, null);
        const atS = clock ? clock(readCells(rest, from, to, form.separator)[timeColumn] ?? '') : cells[timeColumn]! * timeScaleS!;
        if (count !== columns || !Number.isFinite(atS)) broken++;
        else {
          rows++;
          pending.push(Float64Array.of(atS, ...signals.map(({ column }, i) => cells[column]! * channels[i]!.factor)));
        }
      }
      if (to >= rest.length) {
        from = rest.length;
        break;
      }
      from = skipLineEnd(rest, to);
    }
    rest = rest.slice(from);
    if (rest.length > LONGEST_LINE) {
      broken += FEWEST_BROKEN + 1;
      rest = new Uint8Array(0);
    }
  };

  const placeRows = (at: Grid): Result<CsvFeedPart | null, CsvFeedFailureCode> => {
    const first = at.place + 1;
    const places = new Int32Array(pending.length);
    for (const [i, row] of pending.entries()) {
      const step = row[0]! - at.lastS;
      const isFirst = at.place < 0;
      if (!isFirst && step < 0) return stop(fail('time-goes-back', `The time goes back by ${Number((-step).toPrecision(4))} s.`, 'Start a new reading: the recorder was set back, or another recording follows.', { stepS: Number(step.toPrecision(4)) }).failure);
      if (step > LONGEST_PAUSE_S) return stop(fail('time-uneven', `Nothing was sent for ${Math.round(step)} s.`, 'Start a new reading: this is another recording.', { pauseS: Math.round(step) }).failure);
      let next = at.place + 1;
      const off = (row[0]! - at.anchorS) * at.samplesPerS - (next - at.anchorPlace);
      if (!isFirst && (step * at.samplesPerS > 1.5 + TIME_GRAIN_S * at.samplesPerS || off > MOST_OFF_PLACES + TIME_GRAIN_S * at.samplesPerS)) {
        const lost = Math.max(1, Math.round(step * at.samplesPerS) - 1);
        next += lost;
        findings.push({ code: 'recording-gaps', text: `${lost} samples are missing before ${Number(row[0]!.toFixed(3))} s.`, next: 'Beats that touch a gap are not measured; look at the recorder if there are many.' });
        [at.anchorPlace, at.anchorS] = [next, row[0]!];
      } else if (off < -MOST_OFF_PLACES - TIME_GRAIN_S * at.samplesPerS) {
        findings.push({ code: 'time-uneven', text: `More rows arrive than ${Number(at.samplesPerS.toPrecision(4))} a second at ${Number(row[0]!.toFixed(3))} s; times after it are counted anew.`, next: 'Send with a fixed sampling rate.' });
        [at.anchorPlace, at.anchorS] = [next, row[0]!];
      }
      places[i] = next;
      [at.place, at.lastS] = [next, row[0]!];
    }
    const samples = channels.map(() => new Float32Array(at.place - first + 1).fill(NaN));
    for (const [i, row] of pending.entries()) for (let c = 0; c < samples.length; c++) samples[c]![places[i]! - first] = row[c + 1]!;
    const part: CsvFeedPart = {
      channels: channels.map(({ label, kind, unit }) => ({ label, kind, unit })), samplesPerS: at.samplesPerS, startS: at.startS, place: first, samples, findings,
    };
    [pending, findings] = [[], []];
    return succeed(part);
  };

  return { append: (bytes) => take(bytes, false), end: () => take(new Uint8Array(0), true) };
}

const failHead = () => fail('csv-header-missing' as const, 'No header has arrived.', 'Send a first line that names the time column and every signal with its unit.');

function joinBytes(one: Uint8Array, two: Uint8Array): Uint8Array {
  const whole = new Uint8Array(one.length + two.length);
  whole.set(one);
  whole.set(two, one.length);
  return whole;
}
