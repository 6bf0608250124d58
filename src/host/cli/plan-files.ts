import { createHash } from 'node:crypto';
import { open } from 'node:fs/promises';
import { z } from 'zod';
import { cross, norm, sub } from '../../core/math/vec3.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { Landmarks } from '../../core/root/root-types.ts';
import { dropRepeats, failTooFew, LEAST_POINTS } from '../../core/root/use-contour.ts';
import { TABLES_EN } from '../../core/text/tables-en.ts';
import { parseDeviceTable } from '../../formats/tables/parse-device-table.ts';
import { parsePatient } from '../../formats/tables/parse-patient.ts';
import { parseRules } from '../../formats/tables/parse-rules.ts';
import { listMarks, type HandedFile } from './check-landmarks.ts';
import { isChangedAfterSigning } from './signed-hash.ts';

/** The small files a person hands to `plan` beside the CT. All are pages of text; anything longer is something else. */
const MOST_FILE_BYTES = 4 << 20;

export type LandmarksFailureCode =
  'landmarks-unreadable' | 'landmarks-not-json' | 'landmarks-invalid' | 'landmarks-empty' | 'nadirs-collinear' | 'contour-too-few-points';

const coordinate = z.number().min(-10_000).max(10_000);
const xyz = z.tuple([coordinate, coordinate, coordinate]);
/** landmarks.json of the contract: its shape. */
export const LANDMARKS = z.strictObject({
  format: z.literal('trinadir.landmarks/1'),
  by: z.string().min(1).max(200),
  frameOfReferenceUid: z.string().max(64).optional(),
  nadirsLps: z.strictObject({ R: xyz, L: xyz, N: xyz }).optional(),
  ostiaLps: z.strictObject({ left: xyz.optional(), right: xyz.optional() }).optional(),
  contourLps: z.array(xyz).max(10_000).optional(),
});
/** Closer to one line than this, three nadirs do not say which way the plane leans. */
const LEAST_TRIANGLE_MM = 2;

/**
 * A person's marks (landmarks.json of the contract).
 * Units   LPS mm
 * Fails   landmarks-unreadable, landmarks-not-json, landmarks-invalid (names the first field), landmarks-empty,
 *         nadirs-collinear, contour-too-few-points
 */
export async function readLandmarks(path: string): Promise<Result<HandedFile<Landmarks>, LandmarksFailureCode>> {
  const read = await readJson(path);
  if (read === 'unreadable') return fail('landmarks-unreadable', 'The landmarks file cannot be read.', 'Check its path and rights (at most 4 MB).');
  if (read === 'not-json') return fail('landmarks-not-json', 'The landmarks file is not JSON.', 'Check commas and quotes; numbers need a point, not a comma.');
  const parsed = LANDMARKS.safeParse(read.content);
  if (!parsed.success) {
    const { field, problem } = describeIssue(parsed.error);
    return fail('landmarks-invalid', `The landmarks file does not fit at ${field} (${problem}).`,
      'It holds format, by, frameOfReferenceUid, nadirsLps { R, L, N }, ostiaLps { left, right } and contourLps, each point as [x, y, z] in LPS mm.', { field, problem });
  }
  const marks = parsed.data;
  if (listMarks(marks).length === 0 && !marks.contourLps) return fail('landmarks-empty', 'The landmarks file holds no mark.', 'Give nadirsLps, ostiaLps, contourLps or several of them.');
  if (marks.contourLps) {
    const points = dropRepeats(marks.contourLps).length;
    if (points < LEAST_POINTS) return failTooFew(points);
  }
  if (marks.nadirsLps) {
    const { R: r, L: l, N: n } = marks.nadirsLps;
    const longest = Math.max(norm(sub(l, r)), norm(sub(n, r)), norm(sub(n, l)));
    const heightMm = longest > 0 ? norm(cross(sub(l, r), sub(n, r))) / longest : 0;
    if (!(heightMm >= LEAST_TRIANGLE_MM)) {
      return fail('nadirs-collinear', `The three nadirs lie within ${heightMm.toFixed(1)} mm of one line: they span no plane.`,
        'Mark the lowest point of each cusp; they stand about 120 degrees apart.', { heightMm });
    }
  }
  return succeed({ content: marks, sha256: read.sha256 });
}

const TABLE_NAMES = { devices: 'device table', rules: 'rules file', patient: 'patient file' } as const;
const PARSERS = { devices: parseDeviceTable, rules: parseRules, patient: parsePatient } as const;
type TableKind = keyof typeof PARSERS;
type TableOf<K extends TableKind> = Extract<ReturnType<(typeof PARSERS)[K]>, { ok: true }>['value'];
type CodeOf<K extends TableKind> = Extract<ReturnType<(typeof PARSERS)[K]>, { ok: false }>['failure']['code'];

/**
 * A device table, a set of rules or a patient file, with the hash that goes into the plan.
 * Fails     <kind>-unreadable, <kind>-not-json, <kind>-changed (its stated hash no longer fits), and as its parser
 */
export async function readTable<K extends TableKind>(path: string, kind: K): Promise<Result<HandedFile<TableOf<K>>, CodeOf<K> | `${K}-unreadable` | `${K}-not-json` | `${K}-changed`>> {
  const read = await readJson(path);
  const name = TABLE_NAMES[kind];
  if (read === 'unreadable') return fail(`${kind}-unreadable` as const, `The ${name} cannot be read.`, 'Check its path and rights (at most 4 MB).');
  if (read === 'not-json') return fail(`${kind}-not-json` as const, `The ${name} is not JSON.`, 'Check commas and quotes.');
  const parsed = PARSERS[kind](read.content) as Result<TableOf<K>, CodeOf<K>>;
  if (!parsed.ok) return parsed;
  if (isChangedAfterSigning(read.content)) return fail(`${kind}-changed` as const, TABLES_EN.changed, TABLES_EN.changedNext);
  return succeed({ content: parsed.value, sha256: read.sha256 });
}

/** Field names are those of our own schemas; a key that we do not know is not repeated. */
function describeIssue(error: z.ZodError): { field: string; problem: string } {
  const issue = error.issues[0]!;
  return { field: issue.path.map(String).join('.') || 'the file', problem: issue.code };
}

async function readJson(path: string): Promise<HandedFile<unknown> | 'unreadable' | 'not-json'> {
  const bytes = await readSmallFile(path);
  if (!bytes) return 'unreadable';
  try {
    const text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
    return { content: JSON.parse(text) as unknown, sha256: createHash('sha256').update(bytes).digest('hex') };
  } catch {
    return 'not-json';
  }
}

/** null for what is no plain file, cannot be read or is too long; a pipe or device is not opened for reading. */
async function readSmallFile(path: string): Promise<Uint8Array | null> {
  try {
    const file = await open(path, 'r');
    try {
      const { size } = await file.stat().then((found) => (found.isFile() ? found : { size: Infinity }));
      return size <= MOST_FILE_BYTES ? await file.readFile() : null;
    } finally {
      await file.close();
    }
  } catch {
    return null;
  }
}
