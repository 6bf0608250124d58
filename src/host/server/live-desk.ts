import { randomBytes } from 'node:crypto';
import { constants, copyFile, mkdir, open, rm, type FileHandle } from 'node:fs/promises';
import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { openLivePressure, type LiveBeat, type LivePressure } from '../../core/haemodynamics/live-pressure.ts';
import type { PressureInputs } from '../../core/haemodynamics/pressure-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { PRESSURE_EN } from '../../core/text/pressure-en.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import type { FactStamp, Reason } from '../../core/units/fact.ts';
import { makeCsvFeed, type CsvFeed, type CsvFeedPart } from '../../formats/waveform/make-csv-feed.ts';
import type { ChannelChoice } from '../../formats/waveform/waveform-types.ts';
import { failUnwritable } from '../storage/data-lock.ts';
import { makeTurns } from './door.ts';

/** Live streams of all cases of this server, one for each case. In memory and beside the store; all end with the server. */
export interface LiveDesk {
  open(ask: { readonly caseId: string; readonly by: string; readonly choices: readonly ChannelChoice[]; readonly channels: string | null; readonly inputs: PressureInputs }): Promise<Result<LivePart, string>>;
  append(caseId: string, liveId: string, bytes: Uint8Array, stamp: FactStamp): Promise<Result<LivePart, string>>;
  /** What came so far in a file of its own, which the caller adopts or removes. The stream goes on: it ends when that is kept. */
  copy(caseId: string, liveId: string): Promise<Result<{ readonly path: string; readonly channels: string | null }, string>>;
  end(caseId: string, liveId: string): Promise<Result<null, string>>;
}
export interface LivePart {
  readonly liveId: string;
  readonly beats: readonly LiveBeat[];
  readonly findings: readonly Reason[];
}

interface Stream {
  readonly liveId: string;
  readonly caseId: string;
  readonly feed: CsvFeed;
  readonly inputs: PressureInputs;
  readonly channels: string | null;
  readonly path: string;
  readonly file: FileHandle;
  pressure: LivePressure | null;
  bytes: number;
  seenMs: number;
}
const MOST_STREAMS = 8;
const IDLE_MS = 5 * 60_000;
/** Two channels of 1000 samples a second for more than two hours. */
const MOST_BYTES = 256 * 1024 ** 2;

/** `nowMs` of a clock that does not go back. */
export function makeLiveDesk(dataFolder: string, nowMs: () => number = () => performance.now()): LiveDesk {
  const streams = new Map<string, Stream>();
  const inTurn = makeTurns();
  const unknown = () => fail('live-unknown', RECORDINGS_EN.liveUnknown, RECORDINGS_EN.liveUnknownNext);
  const forget = async (stream: Stream): Promise<void> => {
    streams.delete(stream.caseId);
    await stream.file.close().catch(() => {});
    await rm(stream.path, { force: true }).catch(() => {});
  };
  const endIdle = async (): Promise<void> => {
    for (const stream of [...streams.values()]) if (nowMs() - stream.seenMs > IDLE_MS) await forget(stream);
  };
  const sweep = setInterval(() => void inTurn(endIdle), IDLE_MS / 5);
  sweep.unref();
  const find = (caseId: string, liveId: string): Stream | null => {
    const stream = streams.get(caseId);
    return stream?.liveId === liveId ? stream : null;
  };
  return {
    open: ({ caseId, choices, channels, inputs }) => inTurn(async () => {
      await endIdle();
      if (streams.has(caseId)) return fail('live-busy', RECORDINGS_EN.liveBusy, RECORDINGS_EN.liveBusyNext);
      if (streams.size >= MOST_STREAMS) return fail('live-crowd', RECORDINGS_EN.liveCrowd, RECORDINGS_EN.liveCrowdNext);
      const liveId = `live-${randomBytes(12).toString('hex')}`;
      const folder = join(dataFolder, 'pixels', 'incoming'); // cleared when the store opens: nothing outlives the server
      const path = join(folder, liveId);
      try {
        await mkdir(folder, { recursive: true });
        const file = await open(path, 'wx', 0o600);
        streams.set(caseId, { liveId, caseId, feed: makeCsvFeed({ choices }), inputs, channels, path, file, pressure: null, bytes: 0, seenMs: nowMs() });
      } catch (problem) {
        return failUnwritable(problem);
      }
      return succeed({ liveId, beats: [], findings: [] });
    }),

    append: (caseId, liveId, bytes, stamp) => inTurn(async () => {
      const stream = find(caseId, liveId);
      if (!stream) return unknown();
      stream.seenMs = nowMs();
      if (stream.bytes + bytes.length > MOST_BYTES) return fail('live-long', formatText(RECORDINGS_EN, 'liveLong', { bytes: MOST_BYTES }), RECORDINGS_EN.liveLongNext, { bytes: MOST_BYTES });
      const part = stream.feed.append(bytes);
      if (!part.ok) {
        await forget(stream); // a failure of the feed is final
        return part;
      }
      try {
        await stream.file.writeFile(bytes);
      } catch (problem) {
        await forget(stream);
        return failUnwritable(problem);
      }
      stream.bytes += bytes.length;
      const read = part.value === null ? succeed({ beats: [], findings: [] }) : await readPart(stream, part.value, stamp);
      if (!read.ok) {
        await forget(stream);
        return read;
      }
      return succeed({ liveId, ...read.value });
    }),

    copy: (caseId, liveId) => inTurn(async () => {
      const stream = find(caseId, liveId);
      if (!stream) return unknown();
      if (stream.bytes === 0) return fail('live-empty', RECORDINGS_EN.liveEmpty, RECORDINGS_EN.liveEmptyNext);
      stream.seenMs = nowMs();
      const path = `${stream.path}-${randomBytes(6).toString('hex')}`;
      try {
        await copyFile(stream.path, path, constants.COPYFILE_EXCL);
      } catch (problem) {
        await rm(path, { force: true }).catch(() => {});
        return failUnwritable(problem);
      }
      return succeed({ path, channels: stream.channels });
    }),

    end: (caseId, liveId) => inTurn(async () => {
      const stream = find(caseId, liveId);
      if (!stream) return unknown();
      await forget(stream);
      return succeed(null);
    }),
  };
}

/** A second of samples at a time: others are answered between. How a stream is cut changes no beat. */
async function readPart(stream: Stream, part: CsvFeedPart, stamp: FactStamp): Promise<Result<Omit<LivePart, 'liveId'>, 'no-pressure-channel'>> {
  if (stream.pressure === null) {
    if (!part.channels.some((c) => (c.kind === 'aortic' || c.kind === 'ventricular') && c.unit === 'mm[Hg]')) {
      return fail('no-pressure-channel', PRESSURE_EN['no-pressure-channel'], PRESSURE_EN['no-pressure-channel-next'], { channels: part.channels.length });
    }
    stream.pressure = openLivePressure(part, stream.inputs);
  }
  const count = part.samples[0]?.length ?? 0;
  const step = Math.max(1, Math.round(part.samplesPerS));
  const beats: LiveBeat[] = [];
  for (let at = 0; at < count; at += step) {
    if (at > 0) await setImmediate();
    beats.push(...stream.pressure.append(part.samples.map((s) => s.subarray(at, at + step)), stamp));
  }
  return succeed({ beats, findings: part.findings });
}
