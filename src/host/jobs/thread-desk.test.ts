import { writeFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import type { Result } from '../../core/result.ts';
import { makeThreadDesk } from './thread-desk.ts';
import { readPressure, type ReadPressureAnswer } from './pressure-jobs.ts';

const folder = mkdtempSync(join(tmpdir(), 'trinadir-thread-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('makeThreadDesk', () => {
  test('a job that is lost takes no other with it', async () => {
    const desk = makeThreadDesk();
    const gone = { path: join(folder, 'none'), channels: null, inputs: {}, stamp: { by: 'x', at: '2026-03-02T10:00:00.000Z' } };
    const [lost, ...others] = await Promise.allSettled([desk.run('no-such-job', {}), desk.run<Result<ReadPressureAnswer>>('read-pressure', gone), desk.run<Result<ReadPressureAnswer>>('read-pressure', gone)]);
    expect(lost.status).toBe('rejected');
    expect(others).toMatchObject([{ status: 'fulfilled', value: { failure: { code: 'recording-gone' } } }, { status: 'fulfilled', value: { failure: { code: 'recording-gone' } } }]);
    await desk.close();
  });
});

describe('readPressure', () => {
  test('a recording of more beats than a document of a case should hold is refused, with how many it has', () => {
    const path = join(folder, 'long.csv');
    const beat = [10, 60, 110, 120, 100, 40, 12, 10, 9, 9, 9, 10];
    const rows = Array.from({ length: 10_200 * beat.length }, (_, i) => `${(i / 30).toFixed(3)},${beat[i % beat.length]! + ((i * 7) % 5) / 10}`);
    writeFileSync(path, `time [s],LV [mmHg]\n${rows.join('\n')}\n`);
    const read = readPressure({ path, channels: null, inputs: {}, stamp: { by: 'x', at: '2026-03-02T10:00:00.000Z' } });
    expect(read).toMatchObject({ ok: false, failure: { code: 'recording-long', evidence: { beats: expect.any(Number) } } });
  });
});
