import { describe, expect, test } from 'vitest';
import { readStamp } from './clock.ts';

describe('readStamp', () => {
  test('takes SOURCE_DATE_EPOCH before the clock', () => {
    const stamp = readStamp({ SOURCE_DATE_EPOCH: '1772438400' }, 5);
    expect(stamp.ok && stamp.value.at).toBe('2026-03-02T08:00:00Z');
    expect(stamp.ok && stamp.value.by).toMatch(/^trinadir \d+\.\d+\.\d+$/);
  });
  test('takes the clock, whole seconds, when it is unset or empty', () => {
    for (const env of [{}, { SOURCE_DATE_EPOCH: '' }]) {
      const stamp = readStamp(env, 1_772_438_400_999);
      expect(stamp.ok && stamp.value.at).toBe('2026-03-02T08:00:00Z');
    }
  });
  test('knows the first and the last second', () => {
    const first = readStamp({ SOURCE_DATE_EPOCH: '0' });
    const last = readStamp({ SOURCE_DATE_EPOCH: '253402300799' });
    expect(first.ok && first.value.at).toBe('1970-01-01T00:00:00Z');
    expect(last.ok && last.value.at).toBe('9999-12-31T23:59:59Z');
  });
  test('refuses what is not whole seconds', () => {
    for (const epoch of ['yesterday', '-1', '1.5', '1e9', '253402300800', '0x10', ' 1']) {
      const stamp = readStamp({ SOURCE_DATE_EPOCH: epoch });
      expect(!stamp.ok && stamp.failure.code, epoch).toBe('source-date-not-seconds');
    }
  });
});
