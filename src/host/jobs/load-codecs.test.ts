import { describe, expect, test } from 'vitest';
import {
  SMALL_COLUMNS,
  SMALL_ROWS,
  smallFrameBytes,
  smallFrameValues,
  type SmallSyntax,
} from '../../../test/fuzz/small-frames.ts';
import { loadCodecs } from './load-codecs.ts';

const CASES = [
  ['jpeg-lossless', '1.2.840.10008.1.2.4.70'],
  ['jpeg-ls', '1.2.840.10008.1.2.4.80'],
  ['jpeg-2000', '1.2.840.10008.1.2.4.90'],
] as const satisfies readonly (readonly [string, SmallSyntax])[];

describe('loadCodecs', () => {
  test.each(CASES)(
    '%s decodes a frame of another program, before and after a damaged one',
    async (name, syntax) => {
      const codecs = await loadCodecs();
      const good = smallFrameBytes(syntax);
      const damaged = good.slice(0, 120);
      const decode = () => {
        const frame = codecs[name](good);
        if (!frame.ok) throw new Error(frame.failure.message);
        return frame.value;
      };
      const before = decode();
      expect(before).toMatchObject({ rows: SMALL_ROWS, columns: SMALL_COLUMNS, samplesPerPixel: 1 });
      expect(new Int16Array(before.bytes.slice().buffer)).toEqual(smallFrameValues());
      for (const bytes of [damaged, new Uint8Array(0), new Uint8Array(300).fill(255), new Uint8Array(64)]) {
        const refused = codecs[name](bytes);
        // A decoder may give what it has of a cut frame; it may not throw.
        if (!refused.ok) expect(refused.failure.code).toBe('codestream-unreadable');
      }
      expect(decode().bytes).toEqual(before.bytes);
    },
  );

  test('gives a copy that a later frame does not overwrite', async () => {
    const codecs = await loadCodecs();
    const first = codecs['jpeg-ls'](smallFrameBytes('1.2.840.10008.1.2.4.80'));
    const bytes = first.ok ? first.value.bytes.slice() : new Uint8Array(0);
    codecs['jpeg-ls'](smallFrameBytes('1.2.840.10008.1.2.4.80').slice(0, 200));
    expect(first.ok && first.value.bytes).toEqual(bytes);
  });

  test('refuses an HTJ2K codestream that is none', async () => {
    const refused = (await loadCodecs()).htj2k(new Uint8Array(64));
    expect(refused.ok ? 'ok' : refused.failure.code).toBe('codestream-unreadable');
  });
});
