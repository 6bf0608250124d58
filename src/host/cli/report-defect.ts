import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { fail, type Failure } from '../../core/result.ts';
import { readMadeBy } from './clock.ts';

const programFolder = fileURLToPath(new URL('../../..', import.meta.url));

/**
 * What a report says of a defect: the kind of error and the places in our code it passed through. The error's message
 * is left out, since it can hold a path, a name or a piece of a file.
 */
export function describeDefect(problem: unknown, where: string): string {
  const error = problem instanceof Error ? problem : new Error('not an Error');
  const code = (error as { code?: unknown }).code;
  const frames = (error.stack ?? '')
    .split('\n')
    .filter((line) => /^\s+at /.test(line))
    .map((line) => {
      const place = /(?:file:\/\/)?([^\s()]+:\d+:\d+)\)?$/.exec(line)?.[1] ?? '';
      const name = /^\s+at (?:async )?([\w$.<>]+) \(/.exec(line)?.[1] ?? '';
      if (place.startsWith('node:')) return `  ${place} ${name}`;
      return place.startsWith(programFolder) ? `  ${place.slice(programFolder.length)} ${name}` : '  (outside the program)';
    });
  return [
    'Trinadir defect report. It holds no patient data: no message texts, no paths, no arguments.',
    `version   ${readMadeBy()}`,
    `node      ${process.versions.node} ${process.platform} ${process.arch}`,
    `where     ${where}`,
    `kind      ${error.constructor.name}${typeof code === 'string' ? ` ${code}` : ''}`,
    ...frames.map((line) => line.trimEnd()),
    '',
  ].join('\n');
}

/** Writes the report beside other temporary files and gives what to tell the person. Never throws. */
export function reportDefect(problem: unknown, where: string): Failure<'defect'> {
  let next = 'Try again; if it happens again, tell the maintainers the version (trinadir --version) and what you did.';
  try {
    const file = join(mkdtempSync(join(tmpdir(), 'trinadir-defect-')), 'report.txt');
    writeFileSync(file, describeDefect(problem, where));
    next = `Send the report ${file} to the maintainers; it holds no patient data.`;
  } catch {
    // no report, for instance on a full disk: the message still stands
  }
  return fail('defect', 'The program itself is at fault; nothing was answered.', next).failure;
}
