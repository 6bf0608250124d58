import { readFileSync } from 'node:fs';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { FactStamp } from '../../core/units/fact.ts';

export type ClockFailureCode = 'source-date-not-seconds';

const LAST_SECOND = 253402300799; // 9999-12-31T23:59:59Z, the last four-digit year

/** "trinadir 0.1.0", from package.json (three folders up, in src and in dist alike). */
export function readMadeBy(): string {
  const text = readFileSync(new URL('../../../package.json', import.meta.url), 'utf8');
  const { name, version } = JSON.parse(text) as { name: string; version: string };
  return `${name} ${version}`;
}

/**
 * Who computes and when. The time is SOURCE_DATE_EPOCH (whole seconds since 1970) when set, so that the same input
 * gives the same bytes; otherwise now.
 *
 * Units  `at` is ISO 8601 UTC, whole seconds
 * Fails  source-date-not-seconds
 */
export function readStamp(
  env: Readonly<Record<string, string | undefined>> = process.env,
  nowMs: number = Date.now(),
): Result<FactStamp, ClockFailureCode> {
  const epoch = env['SOURCE_DATE_EPOCH'];
  let seconds = Math.floor(nowMs / 1000);
  if (epoch !== undefined && epoch !== '') {
    seconds = /^\d{1,12}$/.test(epoch) ? Number(epoch) : Number.NaN;
    if (!(seconds <= LAST_SECOND)) {
      return fail(
        'source-date-not-seconds',
        'SOURCE_DATE_EPOCH is not a whole number of seconds since 1970.',
        'Set it like SOURCE_DATE_EPOCH=1772438400, or unset it.',
      );
    }
  }
  const at = new Date(seconds * 1000).toISOString().replace('.000Z', 'Z');
  return succeed({ by: readMadeBy(), at });
}
