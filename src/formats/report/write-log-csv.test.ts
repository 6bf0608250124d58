import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeLog } from '../../../test/support/room-log.ts';
import { EVERY_ENTRY, makeLogFixture } from '../../../test/support/room-log-fixtures.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { writeLogCsv } from './write-log-csv.ts';

/** RFC 4180 by its grammar, written for this test alone. */
function parseCsv(text: string): string[][] {
  const rows: string[][] = [];
  let [row, cell, isQuoted] = [[] as string[], '', false];
  for (let i = text.startsWith('\ufeff') ? 1 : 0; i < text.length; i++) {
    const sign = text[i]!;
    if (isQuoted) {
      if (sign === '"' && text[i + 1] === '"') i++, (cell += '"');
      else if (sign === '"') isQuoted = false;
      else cell += sign;
    } else if (sign === '"') isQuoted = true;
    else if (sign === ',') row.push(cell), (cell = '');
    else if (sign === '\r' && text[i + 1] === '\n') i++, row.push(cell), rows.push(row), (row = []), (cell = '');
    else cell += sign;
  }
  expect([row, cell, isQuoted]).toEqual([[], '', false]);
  return rows;
}

describe(`writeLogCsv (seed ${seed})`, () => {
  test('every record is a line with its words, its time, its raw time and the whole entry; the last line says what it is for', () => {
    const log = makeLogFixture();
    const [head, ...lines] = parseCsv(writeLogCsv(log));
    const column = (name: string): number => head!.indexOf(name);
    expect(lines.map((l) => l.length)).toEqual(lines.map(() => head!.length));
    const records = makeLog(EVERY_ENTRY);
    expect(lines.slice(0, -1).map((l) => [l[column('at')], l[column('page_clock')], JSON.parse(l[column('data')]!)])).toEqual(records.map((r) => [r.happenedAt, r.clientAt, r.entry]));
    expect(lines[5]![column('what')]).toContain('Depth 4 mm, 3.6 to 4.4');
    expect(lines.at(-1)).toEqual(expect.arrayContaining(['end', log.lastSha256, String(log.lastSeq)]));
    expect(lines.at(-1)![column('what')]).toMatch(/training.*not a medical device/is);
  });

  test('any note comes back, and none is a formula', () => {
    fc.assert(fc.property(fc.oneof(fc.string({ minLength: 1, maxLength: 60, unit: 'binary' }), fc.constantFrom('=1+1', '@x', '-2', '+3', 'a"b,c\r\nd')), (text) => {
      const [record] = makeLog([{ is: 'rescue', card: text, did: 'ticked', line: 0 }]) as [RoomRecord];
      const [head, line] = parseCsv(writeLogCsv(makeLogFixture([record])));
      expect(JSON.parse(line![head!.indexOf('data')]!)).toEqual(record.entry);
      expect(line![head!.indexOf('what')]).not.toMatch(/^[=+\-@\t\r]/);
    }), { ...replay, numRuns: Math.min(replay.numRuns, 40) });
  });
});
