import { stat } from 'node:fs/promises';
import { fail, type Result } from '../../core/result.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { ID } from '../../formats/api/case-schemas.ts';
import type { OpenedCase } from './case-file-types.ts';
import { failTooLarge, openCaseFolder, readUpTo } from './open-case-folder.ts';
import { openCaseZip } from './open-case-zip.ts';
import { openStoredCase, type StoredPlace } from './open-stored-case.ts';

const MOST_ZIP_BYTES = 2 ** 30;

/**
 * A CASE as the command line names it: a case folder, a .trinadir.zip, or the id of a stored case. What lies on disk wins
 * over a stored case of the same name. The caller closes it.
 * Fails     case-unreadable, and as openCaseFolder, openCaseZip, openStoredCase
 */
export async function openCase(named: string, place: StoredPlace): Promise<Result<OpenedCase, string>> {
  const found = await stat(named).catch(() => null);
  if (found?.isDirectory()) return openCaseFolder(named);
  if (found?.isFile()) {
    if (found.size > MOST_ZIP_BYTES) return failTooLarge(found.size, MOST_ZIP_BYTES);
    const bytes = await readUpTo(named, MOST_ZIP_BYTES);
    if (bytes) return openCaseZip(bytes);
  }
  return found === null && ID.safeParse(named).success ? openStoredCase(named, place) : fail('case-unreadable', CASE_FILE_EN.unreadable, CASE_FILE_EN.unreadableNext);
}
