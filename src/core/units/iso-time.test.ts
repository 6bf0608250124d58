import { expect, it } from 'vitest';
import { isIsoTime } from './iso-time.ts';

it('takes dates and times as a signature writes them', () => {
  for (const text of ['2026-03-02', '2026-03-02T08:11:00Z', '2026-03-02T08:11', '2026-03-02T08:11:00.123+01:00', '2024-02-29', '2000-02-29']) expect(isIsoTime(text), text).toBe(true);
});
it('refuses what is no date', () => {
  for (const text of ['', 'yesterday', '2026-13-01', '2026-02-29', '1900-02-29', '2026-04-31', '2026-03-02T24:00', '02.03.2026', '2026-3-2', '2026-03-02 08:11']) expect(isIsoTime(text), text).toBe(false);
});
