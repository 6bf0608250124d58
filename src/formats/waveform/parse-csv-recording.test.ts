import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { parseChannelMap } from './parse-channel-map.ts';
import { parseCsvRecording } from './parse-csv-recording.ts';
import { makeCsvFeed, type CsvFeedPart } from './make-csv-feed.ts';

const FLOAT32 = { relative: 2 ** -23, absolute: 1e-6, from: 'samples are kept in float32' };
const encode = (text: string): Uint8Array => new TextEncoder().encode(text);
const pressure = (i: number): number => Number((90 + 30 * Math.sin(i / 20)).toFixed(2));
const rows = (n: number, write: (i: number) => string): string => Array.from({ length: n }, (_, i) => write(i)).join('\n');
const PLAIN = `time (s),AO (mmHg),LV (mmHg)\n${rows(500, (i) => `${(i / 250).toFixed(3)},${pressure(i)},${pressure(i) / 2}`)}\n`;

function read(text: string | Uint8Array, channels?: string): Recording {
  const map = channels === undefined ? null : parseChannelMap(channels);
  const result = parseCsvRecording(typeof text === 'string' ? encode(text) : text, { choices: map?.ok ? map.value : [] });
  if (!result.ok) throw new Error(`${result.failure.code} ${result.failure.message}`);
  return result.value;
}
function refuse(text: string): string {
  const result = parseCsvRecording(encode(text));
  return result.ok ? 'read' : result.failure.code;
}
const codes = (recording: Recording): readonly string[] => recording.findings.map(({ code }) => code);

describe('parseCsvRecording', () => {
  test('reads names, units, rate and values', () => {
    const { channels, durationS, findings } = read(PLAIN);
    expect(channels.map(({ label, kind, unit, samplesPerS, samples }) => [label, kind, unit, samplesPerS, samples.length])).toEqual([['AO', 'aortic', 'mm[Hg]', 250, 500], ['LV', 'ventricular', 'mm[Hg]', 250, 500]]);
    expect([durationS, findings]).toEqual([2, []]);
    for (const i of [0, 17, 499]) expectWithin(channels[0]!.samples[i]!, pressure(i), FLOAT32);
  });

  test.each([
    ['semicolons, decimal comma, CRLF', `Zeit [ms];Aorta [mmHg];Linker Ventrikel [mmHg]\r\n${rows(500, (i) => `${4 * i};${pressure(i)};${pressure(i) / 2}`.replaceAll('.', ',')).replaceAll('\n', '\r\n')}`],
    ['tabs and a line of units', `t\tAO\tLV\ns\tmmHg\tmmHg\n${rows(500, (i) => `${i / 250}\t${pressure(i)}\t${pressure(i) / 2}`)}`],
    ['single quotes, as one exporter writes', `'Elapsed time','AO','LV'\n'seconds','mmHg','mmHg'\n${rows(500, (i) => `${i / 250},${pressure(i)},${pressure(i) / 2}`)}`],
    ['quoted decimal commas parted by commas', `"time (s)","AO (mmHg)","LV (mmHg)"\n${rows(500, (i) => [i / 250, pressure(i), pressure(i) / 2].map((v) => `"${String(v).replace('.', ',')}"`).join(','))}`],
    ['kPa', `time_s,AO_kPa,LV_kPa\n${rows(500, (i) => `${i / 250},${pressure(i) * 0.133322387415},${(pressure(i) / 2) * 0.133322387415}`)}`],
    ['cmH2O and a remark before the header', `# exported\ntime (s),AO (cmH2O),LV (cmH2O)\n${rows(500, (i) => `${i / 250},${(pressure(i) * 133.322387415) / 98.0665},${(pressure(i) / 2) * 1.359509804}`)}`],
    ['clock times past midnight', `time,AO (mmHg),LV (mmHg)\n${rows(500, (i) => `${i < 250 ? '23:59:59' : '00:00:00'}.${String((i % 250) * 4).padStart(3, '0')},${pressure(i)},${pressure(i) / 2}`)}`],
    ['exponents and a byte order mark', `\ufefftime (s),AO (mmHg),LV (mmHg)\n${rows(500, (i) => `${(i / 250).toExponential()},${pressure(i).toExponential()},${(pressure(i) / 2).toExponential()}`)}`],
  ])('says the same of %s', (_, text) => {
    const { channels } = read(text);
    const plain = read(PLAIN).channels;
    for (const [c, channel] of channels.entries()) {
      expect([channel.kind, channel.unit, channel.samplesPerS]).toEqual([plain[c]!.kind, 'mm[Hg]', 250]);
      for (const i of [0, 1, 250, 499]) expectWithin(channel.samples[i]!, plain[c]!.samples[i]!, { relative: 1e-6, absolute: 1e-5, from: 'float32, and cmH2O written with ten digits' });
    }
  });

  test('an arterial line is read as the aorta, and named, only where the aorta itself is not recorded', () => {
    const body = rows(500, (i) => `${i / 250},${pressure(i) + 20},${pressure(i)}`);
    const alone = read(`time (s),ABP (mmHg),LV (mmHg)\n${body}`);
    expect([alone.channels.map(({ kind }) => kind), codes(alone)]).toEqual([['aortic', 'ventricular'], ['arterial-line']]);
    const beside = read(`time (s),ABP (mmHg),AO (mmHg)\n${body}`);
    expect([beside.channels.map(({ kind }) => kind), codes(beside)]).toEqual([['other', 'aortic'], []]);
  });

  test('UTF-16 with its mark', () => {
    const wide = new Uint8Array(2 + PLAIN.length * 2);
    wide.set([0xff, 0xfe]);
    for (let i = 0; i < PLAIN.length; i++) wide[2 + 2 * i] = PLAIN.charCodeAt(i);
    expect(read(wide).channels[1]!.samples).toEqual(read(PLAIN).channels[1]!.samples);
  });

  test('a date with the time gives the start', () => {
    expect(read(`timestamp,AO (mmHg)\n${rows(100, (i) => `2024-02-29T23:59:59.${String(i * 4).padStart(3, '0')},${pressure(i)}`)}`).startedAt).toBe('2024-02-29T23:59:59');
  });

  test('times rounded to whole ms give the true rate, and no gap', () => {
    for (const rate of [240, 300, 360, 512, 750]) {
      const { channels, findings } = read(`time (ms),AO (mmHg)\n${rows(4000, (i) => `${Math.round((i * 1000) / rate)},${pressure(i)}`)}`);
      expectWithin(channels[0]!.samplesPerS, rate, { relative: 1e-3 / (4000 / rate) + 2e-5, absolute: 0, from: '1 ms over the length' });
      expect([channels[0]!.samples.length, findings]).toEqual([4000, []]);
    }
  });

  test('lost rows are empty places, and named', () => {
    const lines = PLAIN.split('\n');
    lines.splice(101, 50);
    const recording = read(lines.join('\n'));
    const [ao] = recording.channels;
    expect([ao!.samples.length, codes(recording)]).toEqual([500, ['recording-gaps', 'samples-missing', 'samples-missing']]);
    expect(ao!.samples[100]).toBeNaN();
    expectWithin(ao!.samples[150]!, pressure(150), FLOAT32);
  });

  test('NaN, empty cells and words are missing; other words are named', () => {
    const recording = read(PLAIN.replace('0.040,', '0.040,NaN;').replace('NaN;', '').replace(/0\.048,[\d.]+/, '0.048,NaN').replace(/0\.056,[\d.]+/, '0.056,').replace(/0\.064,[\d.]+/, '0.064,err'));
    const [ao] = recording.channels;
    for (const i of [12, 14, 16]) expect(ao!.samples[i]).toBeNaN();
    expect(codes(recording)).toEqual(['cells-not-numbers', 'samples-missing']);
  });

  test('a missing unit is assumed and named; a place that is not known is named; a remark column is left out', () => {
    const recording = read(`time,LV,P1 (mmHg),note\n${rows(60, (i) => `${i / 250},${pressure(i)},${pressure(i)},hello`)}`);
    expect(recording.channels.map(({ kind, unit }) => [kind, unit])).toEqual([['ventricular', 'mm[Hg]'], ['other', 'mm[Hg]']]);
    expect(codes(recording)).toEqual(['column-not-numbers', 'unit-assumed', 'pressure-place-unknown']);
    const said = read(`time,LV,P1\n${rows(60, (i) => `${i / 250},${pressure(i)},10`)}`, 'P1=ao:kPa');
    expect(said.channels[1]!.kind).toBe('aortic');
    expectWithin(said.channels[1]!.samples[5]!, 75.00616, { relative: 0, absolute: 1e-4, from: '10 kPa' });
  });

  test('one cut row is left out and named', () => {
    expect(codes(read(`${PLAIN}2.000,8`))).toEqual(['rows-left-out']);
  });

  test('a row sent twice is left out and named, and the rest is as without it', () => {
    const lines = PLAIN.trimEnd().split('\n');
    const twice = [...lines.slice(0, 50), lines[49]!.replace(/,.*/, ',1,1'), ...lines.slice(50)].join('\n');
    const [plain, recording] = [read(PLAIN), read(twice)];
    expect(codes(recording)).toEqual(['rows-repeat']);
    expect(recording.channels.map((c) => [...c.samples])).toEqual(plain.channels.map((c) => [...c.samples]));
    const feed = makeCsvFeed();
    const part = feed.append(encode(`${twice}\n`));
    expect(part.ok && part.value?.findings.map((f) => f.code)).toEqual(['rows-repeat']);
    expect(part.ok && part.value?.samples.map((each) => [...each])).toEqual(plain.channels.map((c) => [...c.samples]));
  });

  test.each([
    ['time that goes back', 'time-goes-back', 'time (s),AO (mmHg)\n0,1\n0.004,2\n0.002,3\n0.006,3'],
    ['times that repeat', 'time-repeats', 'time (s),AO (mmHg)\n0.00,1\n0.00,2\n0.01,3\n0.01,3'],
    ['times that are no numbers', 'time-not-a-number', 'time (s),AO (mmHg)\n0,1\nNaN,2\n0.01,3\n0.02,3'],
    ['uneven times', 'time-uneven', `time (s),AO (mmHg)\n${rows(200, (i) => `${(i / 250) ** 1.7},${pressure(i)}`)}`],
    ['ms taken for s', 'sampling-rate-invalid', `time (s),AO (mmHg)\n${rows(60, (i) => `${4 * i},${pressure(i)}`)}`],
    ['a time column without a name', 'time-column-missing', `a,AO (mmHg)\n${rows(60, (i) => `${i / 250},${pressure(i)}`)}`],
    ['no header', 'csv-header-missing', rows(60, (i) => `${i / 250},${pressure(i)}`)],
    ['decimal commas parted by commas', 'csv-separator-unclear', `time (s),AO (mmHg)\n${rows(60, (i) => `0,${String(i * 4).padStart(3, '0')},80,5`)}`],
    ['a header alone', 'csv-empty', 'time (s),AO (mmHg)\n'],
    ['rows of many lengths', 'csv-rows-differ', `time (s),AO (mmHg)\n${rows(60, (i) => `${i / 250},80${',9'.repeat(i % 3)}`)}`],
    ['words without cells', 'csv-separator-unclear', 'a line of text\nand another\nand another'],
  ])('refuses %s', (_, code, text) => {
    expect(refuse(text)).toBe(code);
  });
});

describe(`makeCsvFeed (seed ${seed})`, () => {
  const joinParts = (parts: readonly CsvFeedPart[], channel: number): number[] => parts.flatMap(({ samples }) => [...samples[channel]!]);

  test('pieces cut anywhere give what the whole file gives', () => {
    const lines = PLAIN.split('\n');
    lines.splice(301, 40, '# balloon up, a remark of the recorder'); // a gap after the rate is known
    const bytes = encode(lines.join('\n'));
    const whole = read(bytes).channels;
    fc.assert(fc.property(fc.array(fc.integer({ min: 1, max: 900 }), { minLength: 1, maxLength: 60 }), (cuts) => {
      const feed = makeCsvFeed();
      const parts: CsvFeedPart[] = [];
      let at = 0;
      for (let k = 0; at < bytes.length; k++) {
        const part = feed.append(bytes.subarray(at, (at += cuts[k % cuts.length]!)));
        if (!part.ok) throw new Error(part.failure.code);
        if (part.value) parts.push(part.value);
      }
      const last = feed.end();
      if (last.ok && last.value) parts.push(last.value);
      for (const c of [0, 1]) expect(joinParts(parts, c)).toEqual([...whole[c]!.samples]);
      let place = 0;
      for (const part of parts) {
        expect(part.place).toBe(place);
        place += part.samples[0]!.length;
      }
      expect(parts.flatMap(({ findings }) => findings.map(({ code }) => code))).toEqual(['recording-gaps']);
    }), { ...replay, numRuns: 25 });
  });

  test('once the rate is known every row is answered at once', () => {
    const feed = makeCsvFeed();
    expect(feed.append(encode(PLAIN.slice(0, PLAIN.indexOf('1.400,'))))).toMatchObject({ ok: true, value: { samplesPerS: 250, place: 0 } });
    const next = feed.append(encode('1.400,100,50\n'));
    expect(next.ok && [next.value?.place, next.value?.samples.map((each) => [...each])]).toEqual([350, [[100], [50]]]);
    expect(feed.append(encode('1.404,1'))).toEqual({ ok: true, value: null });
  });

  test('240 a second in whole ms is 240', () => {
    const feed = makeCsvFeed();
    const part = feed.append(encode(`time (ms),AO (mmHg)\n${rows(300, (i) => `${Math.round((i * 1000) / 240)},${pressure(i)}`)}\n`));
    expect(part.ok && [part.value?.samplesPerS, part.value?.samples[0]!.length, part.value?.findings]).toEqual([240, 300, []]);
  });

  test('a failure stays: time that goes back, a pause that is another recording, no header', () => {
    const start = PLAIN.slice(0, PLAIN.indexOf('1.400,'));
    for (const [row, code] of [['1.0,1,1\n', 'time-goes-back'], ['1.396,1,1\n'.repeat(5), 'time-repeats'], ['900,1,1\n', 'time-uneven'], ['x\n'.repeat(30), 'csv-rows-differ']] as const) {
      const feed = makeCsvFeed();
      feed.append(encode(start));
      const bad = feed.append(encode(row));
      expect(bad.ok ? '' : bad.failure.code).toBe(code);
      expect(feed.append(encode('1.404,1,1\n'))).toEqual(bad);
    }
    const bare = makeCsvFeed().append(encode('1,2\n3,4\n5,6\n7,8\n'));
    expect(bare.ok ? '' : bare.failure.code).toBe('csv-header-missing');
  });
});
