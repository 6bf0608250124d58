import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seed } from '../../../test/support/seed.ts';
import { makeTarEnd, padOf, parseTarHeader, TAR_BLOCK, writeTarHeader } from './tar-header.ts';

const hasTar = spawnSync('tar', ['--version'], { stdio: 'ignore' }).status === 0;
const entry = fc.record({ name: fc.stringMatching(/^[a-z0-9][a-z0-9/._-]{0,98}$/), bytes: fc.integer({ min: 0, max: 8 ** 11 - 1 }) });

describe('tar headers', () => {
  test(`are read back as written (seed ${seed})`, () => {
    fc.assert(fc.property(entry, (given) => {
      expect(parseTarHeader(writeTarHeader(given, 1_772_438_400))).toEqual({ ok: true, value: given });
    }), { seed, numRuns: 200 });
    expect(parseTarHeader(makeTarEnd().subarray(0, TAR_BLOCK))).toEqual({ ok: true, value: null });
  });

  test(`with any byte changed are refused (seed ${seed})`, () => {
    const header = writeTarHeader({ name: 'pixels/ab/cd', bytes: 1234 }, 0);
    fc.assert(fc.property(fc.integer({ min: 0, max: TAR_BLOCK - 1 }), fc.integer({ min: 1, max: 255 }), (at, change) => {
      if (at >= 148 && at < 156) return; // the checksum itself: a blank or a zero behind it mean the same
      const damaged = Uint8Array.from(header);
      damaged[at] = damaged[at]! ^ change;
      expect(parseTarHeader(damaged).ok).toBe(false);
    }), { seed, numRuns: 300 });
    expect(parseTarHeader(header.subarray(1)).ok).toBe(false);
  });

  test.skipIf(!hasTar)('are those that tar itself reads', () => {
    const folder = mkdtempSync(join(tmpdir(), 'trinadir-tar-'));
    const content = new TextEncoder().encode('what stands in it');
    const parts = [writeTarHeader({ name: 'a/b.txt', bytes: content.length }, 1_772_438_400), content, new Uint8Array(padOf(content.length)), makeTarEnd()];
    writeFileSync(join(folder, 'x.tar'), Buffer.concat(parts));
    const listed = spawnSync('tar', ['-xOf', join(folder, 'x.tar'), 'a/b.txt'], { encoding: 'utf8' });
    rmSync(folder, { recursive: true, force: true });
    expect([listed.status, listed.stdout, listed.stderr]).toEqual([0, 'what stands in it', '']);
  });
});
