import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Reason } from '../../core/units/fact.ts';
import { findLineEnd, HASH, readCells, readNumbers, skipLineEnd } from './csv-cells.ts';
import { findTimeGrid, type TimeGrid } from './find-time-grid.ts';
import { makeChannels } from './make-channels.ts';
import { formatClockTime, readClockTime } from './read-clock-time.ts';
import { readCsvHead, type CsvHead } from './read-csv-head.ts';
import { MOST_SAMPLES, type ChannelMapFailureCode, type CsvFailureCode, type RawChannel, type RecordingOptions } from './waveform-types.ts';

export type CsvRecordingFailureCode = CsvFailureCode | ChannelMapFailureCode | 'recording-too-large' | 'channels-too-many' | 'sampling-rate-invalid';

/** Share of rows with another number of cells than the header, above which the file is refused. */
const MOST_BROKEN_SHARE = 0.05;
/** A column is text and no signal when more of its cells than this are no numbers. */
const MOST_TEXT_SHARE = 0.5;
/** Rows that say the time of the row before are left out up to this share; of more, nobody knows which times are meant. */
export const MOST_REPEATED_SHARE = 0.01;
const HALF_DAY_S = 43_200;

/**
 * A CSV file with a header and a time column. Comma, semicolon or tab; decimal comma where the separator allows.
 *
 * Units     from the header; mm[Hg] and mV out; times in s, or as the header says
 * Fails     CsvRecordingFailureCode; broken rows, cells that are no numbers and gaps are findings
 * Source    docs/methods/recordings.md
 */
export function parseCsvRecording(file: Uint8Array, options: RecordingOptions = {}): Result<Recording, CsvRecordingFailureCode> {
  const bytes = makeUtf8(file);
  const head = readCsvHead(bytes, true)!;
  if (!head.ok) return head;
  const read = readRows(bytes, head.value);
  if (!read.ok) return read;
  const { timesS, columns, findings, startedAt } = leaveRepeatsOut(read.value);
  const grid = findTimeGrid(timesS, Math.floor(MOST_SAMPLES / Math.max(1, columns.length)));
  if (!grid.ok) return grid;
  const { samplesPerS, length, missing, gaps } = grid.value;
  if (gaps > 0) {
    findings.push({
      code: 'recording-gaps', text: `The times leap ${gaps} times; ${missing} samples are missing there.`,
      next: 'Beats that touch a gap are not measured; look at the recorder if there are many.',
    });
  }
  const raws = columns.map(({ label, unit, samples }): RawChannel => ({
    label, about: '', unit, samplesPerS, startS: 0, samples: spread(samples, grid.value),
  }));
  const made = makeChannels(raws, options.choices ?? []);
  if (!made.ok) return made;
  return succeed({
    format: 'csv', startedAt, durationS: length / samplesPerS, channels: made.value.channels, marks: [], findings: [...findings, ...made.value.findings],
  });
}

/** UTF-16 with its mark to UTF-8; bytes of an older table are kept, and only header words can hold them. */
function makeUtf8(file: Uint8Array): Uint8Array {
  const label = file[0] === 0xff && file[1] === 0xfe ? 'utf-16le' : file[0] === 0xfe && file[1] === 0xff ? 'utf-16be' : null;
  return label === null ? file : new TextEncoder().encode(new TextDecoder(label).decode(file));
}

interface ReadRows {
  readonly timesS: Float64Array;
  readonly columns: readonly { readonly label: string; readonly unit: string | null; readonly samples: Float32Array }[];
  readonly findings: Reason[];
  readonly startedAt: string | null;
}

function readRows(bytes: Uint8Array, head: CsvHead): Result<ReadRows, CsvFailureCode | 'recording-too-large'> {
  let most = 1;
  for (let i = head.bodyStart; i < bytes.length; i++) if (bytes[i] === 10 || bytes[i] === 13) most++;
  if (most * head.columns > MOST_SAMPLES) return fail('recording-too-large', `The file has more than ${Math.floor(MOST_SAMPLES / head.columns)} rows.`, 'Export the stretch that matters alone.', { columns: head.columns });
  const timesS = new Float64Array(most);
  const samples = head.signals.map(() => new Float32Array(most));
  const cells = new Float64Array(head.columns);
  const bad = new Uint32Array(head.columns);
  const clock = head.timeScaleS === null ? makeClock() : null;
  let [rows, lines, broken, firstBroken] = [0, 0, 0, 0];
  for (let from = head.bodyStart; from < bytes.length; ) {
    const to = findLineEnd(bytes, from);
    if (to > from && bytes[from] !== HASH) {
      lines++;
      const count = readNumbers(bytes, from, to, head.form, cells, bad);
      if (count !== head.columns) {
        if (broken++ === 0) firstBroken = lines;
      } else {
        timesS[rows] = clock ? clock(readCells(bytes, from, to, head.form.separator)[head.timeColumn]!) : cells[head.timeColumn]! * head.timeScaleS!;
        for (let i = 0; i < samples.length; i++) samples[i]![rows] = cells[head.signals[i]!.column]!;
        rows++;
      }
    }
    from = skipLineEnd(bytes, to);
  }
  if (rows === 0 && broken === 0) return fail('csv-empty', 'The file holds a header and no rows.', 'Export the recording again.');
  if (broken > Math.max(1, MOST_BROKEN_SHARE * lines)) {
    return fail('csv-rows-differ', `${broken} of ${lines} rows have another number of cells than the header, the first of them row ${firstBroken}.`,
      'Part the cells by semicolons or tabs where numbers have a decimal comma, and export again.', { broken, rows: lines, firstRow: firstBroken });
  }
  const findings: Reason[] = [];
  if (broken > 0) {
    findings.push({
      code: 'rows-left-out', text: `${broken} of ${lines} rows have another number of cells than the header and were left out, the first of them row ${firstBroken}.`,
      next: 'Was the export cut off? Look at that row.',
    });
  }
  const columns = head.signals.flatMap(({ column, label, unit }, i) => {
    if (bad[column]! > MOST_TEXT_SHARE * rows) {
      findings.push({ code: 'column-not-numbers', text: `Column ${column + 1} holds no numbers and was left out.`, next: 'Nothing to do where it is a remark.' });
      return [];
    }
    if (bad[column]! > 0) {
      findings.push({ code: 'cells-not-numbers', text: `${bad[column]!} cells of column ${column + 1} are no numbers and count as missing.`, next: 'Look at how the recorder writes what it could not measure.' });
    }
    return [{ label, unit, samples: samples[i]!.subarray(0, rows) }];
  });
  if (columns.length === 0) return fail('csv-empty', 'No column beside the time holds numbers.', 'Check the decimal sign and the separator, and export again.', { columns: head.columns });
  return succeed({ timesS: timesS.subarray(0, rows), columns, findings, startedAt: clock?.startedAt() ?? null });
}

/** A row sent twice: the first of a time stays. Where many repeat, all stay and the time grid refuses them. */
function leaveRepeatsOut(read: ReadRows): ReadRows {
  const { timesS, columns, findings } = read;
  const kept: number[] = [];
  for (let i = 0; i < timesS.length; i++) if (i === 0 || timesS[i] !== timesS[i - 1]) kept.push(i);
  const repeats = timesS.length - kept.length;
  if (repeats === 0 || repeats > MOST_REPEATED_SHARE * timesS.length) return read;
  return {
    ...read, timesS: Float64Array.from(kept, (i) => timesS[i]!), columns: columns.map((c) => ({ ...c, samples: Float32Array.from(kept, (i) => c.samples[i]!) })),
    findings: [...findings, makeRepeatFinding(repeats, timesS.length)],
  };
}
export const makeRepeatFinding = (repeats: number, rows: number): Reason => ({
  code: 'rows-repeat', text: `${repeats} of ${rows} rows have the time of the row before and were left out.`, next: 'Look at how the recorder sends; export times with more decimals if rows of their own were meant.',
});

/** Clock times to seconds; past midnight they run on. */
export function makeClock(): ((text: string) => number) & { startedAt(): string | null } {
  let [days, last] = [0, NaN];
  let started: string | null = null;
  const read = (text: string): number => {
    const time = readClockTime(text);
    if (time === null) return NaN;
    if (Number.isNaN(last) && time.hasDate) started = formatClockTime(time.atS);
    if (!time.hasDate && time.atS < last - HALF_DAY_S) days++;
    last = time.atS;
    return time.atS + days * 2 * HALF_DAY_S;
  };
  return Object.assign(read, { startedAt: () => started });
}

function spread(samples: Float32Array, grid: TimeGrid): Float32Array {
  if (grid.places === null) return samples;
  const out = new Float32Array(grid.length).fill(NaN);
  for (let i = 0; i < samples.length; i++) out[grid.places[i]!] = samples[i]!;
  return out;
}
