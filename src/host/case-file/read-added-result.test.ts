import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import type { CaseEvent } from '../../core/case/case-events.ts';
import { applyEvent, emptyCase } from '../../core/case/fold-case.ts';
import { readAddedMeasurement } from './read-added-result.ts';

const folder = mkdtempSync(join(tmpdir(), 'trinadir-added-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('readAddedMeasurement', () => {
  test('a recording that the case has changes nothing; one that was withdrawn joins anew', async () => {
    const path = join(folder, 'a.csv');
    const text = `time [s],note [V]\n${Array.from({ length: 400 }, (_, i) => `${(i / 100).toFixed(2)},${i % 7}`).join('\n')}\n`;
    writeFileSync(path, text);
    const added = await readAddedMeasurement(path, new TextEncoder().encode(text), { moment: 'after', takenAt: '2026-03-02T10:00:00.000Z', because: 'Invented for a test' });
    if (!added.ok) throw new Error(added.failure.code);
    const at = (seq: number, kind: CaseEvent['kind'], data: unknown): CaseEvent => ({ caseId: 'case-1', seq, at: '2026-03-02T10:00:00.000Z', by: 'one', kind, data, supersedes: null, prevSha256: '', sha256: '' } as CaseEvent);
    const empty = applyEvent(emptyCase('case-1'), at(1, 'case.opened', { label: 'x', procedureOn: null, training: true }));
    const first = added.value.listEvents(empty, null);
    if (!first.ok) throw new Error(first.failure.code);
    const joined = applyEvent(empty, at(2, 'recording.joined', first.value[0]!.data));
    expect(added.value.listEvents(joined, null)).toEqual({ ok: true, value: [] });
    const { recordingId } = joined.result.recordings[0]!;
    expect(added.value.listEvents(applyEvent(joined, at(3, 'witness.withdrawn', { of: recordingId, because: 'mistake' })), null)).toEqual(first);
  });
});
