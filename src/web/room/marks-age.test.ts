import { describe, expect, test } from 'vitest';
import type { Rule } from '../../core/device/device-types.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { RoomEntry } from '../../core/room/room-types.ts';
import { judgeMarks, stampFrame } from './marks-age.ts';

const roomOf = (...entries: readonly RoomEntry[]) => foldRoom(entries.map((entry, i) => {
  const at = new Date(Date.UTC(2026, 2, 2, 10, 0, i)).toISOString();
  return { entryId: `entry-${i}`, clientId: 'page-0001', place: 'desk' as const, count: i + 1, monotonicMs: i * 1000, clientAt: at, happenedAt: at, offset: null, corrects: null, entry, by: 'person-ann', seq: i + 1 };
}));
const rule = (value: number): Rule => ({ code: 'depth-gone', value, unit: 's', strict: false, definition: '', edition: '', source: '', status: 'P' } as unknown as Rule);

const READING = { depthMm: 3, lowMm: 2, highMm: 4, state: 'uncorrected', by: 'marks', views: [{ primaryDeg: 0, secondaryDeg: 0 }], cusp: 'N', edge: 'inflow', clicks: 1, unsheathedRatio: null } as const;

describe('marks of a frame that may have moved', () => {
  const before = roomOf({ is: 'phase', phase: 'position' });
  const when = { frame: stampFrame(before), atMs: 1000 };

  test('stay together while the log knows of no movement', () => {
    expect(judgeMarks(null, before, 1e9, { depthGoneS: rule(60) })).toBe('same');
    expect(judgeMarks(when, roomOf({ is: 'phase', phase: 'position' }, { is: 'pacing', isOn: true, ratePerMin: 120 }, { is: 'contrast', ml: 8 }, { is: 'depth', reading: READING }), 2000, { depthGoneS: rule(60) })).toBe('same');
  });

  test('are told apart by everything that moves the frame', () => {
    const moves: readonly RoomEntry[] = [{ is: 'fraction', ratio: 0.4 }, { is: 'moved', direction: 'up', mm: 2 }, { is: 'recaptured', isWhole: true }, { is: 'phase', phase: 'released' }, { is: 'valve-out', inspected: true, replaced: false }];
    for (const move of moves) expect(judgeMarks(when, roomOf({ is: 'phase', phase: 'position' }, move), 2000, { depthGoneS: null }), move.is).toBe('moved');
  });

  test('grow old by the rule of the hospital, and without one by none', () => {
    expect(judgeMarks(when, before, 1000 + 61_000, { depthGoneS: rule(60) })).toBe('old');
    expect(judgeMarks(when, before, 1000 + 59_000, { depthGoneS: rule(60) })).toBe('same');
    expect(judgeMarks(when, before, 1e9, { depthGoneS: null })).toBe('same');
  });
});
