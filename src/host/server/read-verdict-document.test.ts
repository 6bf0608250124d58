import { describe, expect, test } from 'vitest';
import { fail, succeed } from '../../core/result.ts';
import { makeVerdictDocuments } from './read-verdict-document.ts';

describe('makeVerdictDocuments', () => {
  test('an answer of pressures is read once and kept without its beats; all else is read each time, as it is', async () => {
    const asked: string[] = [];
    const documents = { a: ['pressure', '{"format":"trinadir.pressure/1","beats":[{"t":1},{"t":2}],"leak":{"arIndex":7}}'], b: ['grade', '{"beats":[1]}'] } as const;
    const store = { readDocument: async (sha256: string) => {
      asked.push(sha256);
      const found = documents[sha256 as 'a' | 'b'] as (typeof documents)['a' | 'b'] | undefined;
      return found ? succeed({ kind: found[0], text: found[1] }) : fail('blob-unknown' as const, 'x', 'y');
    } };
    const read = makeVerdictDocuments();
    for (let i = 0; i < 2; i++) {
      expect(await read(store, 'a')).toEqual(succeed('{"format":"trinadir.pressure/1","beats":[],"leak":{"arIndex":7}}'));
      expect(await read(store, 'b')).toEqual(succeed('{"beats":[1]}'));
      expect(await read(store, 'c')).toMatchObject({ ok: false, failure: { code: 'blob-unknown' } });
    }
    expect(asked).toEqual(['a', 'b', 'c', 'b', 'c']);
  });
});
