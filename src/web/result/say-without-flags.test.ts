import { expect, test } from 'vitest';
import { PRESSURE_EN } from '../../core/text/pressure-en.ts';
import { sayWithoutFlags } from './say-without-flags.ts';

test('no finding of the pressures tells a reader of the page to use an option of the command line', () => {
  const found = Object.entries(PRESSURE_EN).filter(([key]) => key.endsWith('-next')).map(([key, text]) => [key, sayWithoutFlags(text)] as const).filter(([, text]) => /--\w/.test(text));
  expect(found).toEqual([]);
  expect(sayWithoutFlags('Give it with --baseline.')).toContain('before any balloon');
});
