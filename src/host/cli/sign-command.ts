import { readFile, rename, writeFile } from 'node:fs/promises';
import { fail, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { TABLES_EN } from '../../core/text/tables-en.ts';
import { parseDeviceTable } from '../../formats/tables/parse-device-table.ts';
import { parseRescueCards } from '../../formats/tables/parse-rescue.ts';
import { parseRhythmRules } from '../../formats/tables/parse-rhythm-rules.ts';
import { parseRules } from '../../formats/tables/parse-rules.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { reportFailure } from './report-failure.ts';
import { hashSigned } from './signed-hash.ts';

export interface SignOptions {
  readonly path: string;
  readonly by: string;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/**
 * `trinadir sign FILE --by NAME`: checks a device table, a set of rules, rescue cards or rhythm rules and puts name, time and hash into it, in place.
 * Nothing is written when the table is refused.
 */
export async function runSignCommand(options: SignOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>, code: number): number => {
    reportFailure(failure, 'sign', { json: options.json === true }, io);
    return code;
  };
  const stamp = readStamp();
  if (!stamp.ok) return stop(stamp.failure, EXIT.usage);
  if (options.by.trim() === '') return stop(fail('signer-missing', TABLES_EN.signerMissing, TABLES_EN.signerMissingNext).failure, EXIT.usage);
  const content = await readContent(options.path);
  if (!content) return stop(fail('table-unreadable', TABLES_EN.unreadable, TABLES_EN.unreadableNext).failure, EXIT.refused);
  // Signed cards are no default any more, whatever the file says.
  const { signedSha256: _old, isDefault: _isDefault, ...rest } = content;
  const signed = { ...rest, signedBy: options.by.trim(), signedAt: stamp.value.at };
  const checked = checkContent(signed);
  if (!checked.ok) return stop(checked.failure, EXIT.refused);
  const signedSha256 = hashSigned(signed);
  const beside = `${options.path}.signing`;
  await writeFile(beside, `${JSON.stringify({ ...signed, signedSha256 }, null, 1)}\n`, { flush: true });
  await rename(beside, options.path);
  if (options.json) io.out(`${JSON.stringify({ signedBy: signed.signedBy, signedAt: signed.signedAt, signedSha256 })}\n`);
  else io.out(`${formatText(TABLES_EN, 'signed', { by: signed.signedBy, at: signed.signedAt, hash: signedSha256.slice(0, 16) })}\n`);
  return EXIT.answered;
}

function checkContent(signed: Readonly<Record<string, unknown>>): Result<unknown> {
  switch (signed['format']) {
    case 'trinadir.rules/1': return parseRules(signed);
    case 'trinadir.rescue/1': return parseRescueCards(signed);
    case 'trinadir.rhythm-rules/1': return parseRhythmRules(signed);
    default: return parseDeviceTable(signed);
  }
}

async function readContent(path: string): Promise<Readonly<Record<string, unknown>> | null> {
  try {
    const content = JSON.parse(await readFile(path, 'utf8')) as unknown;
    return content !== null && typeof content === 'object' && !Array.isArray(content) ? (content as Record<string, unknown>) : null;
  } catch {
    return null;
  }
}
