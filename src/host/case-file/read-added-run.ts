import { createHash } from 'node:crypto';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import { measureContrast } from '../../core/angiogram/measure-contrast.ts';
import { succeed, type Result } from '../../core/result.ts';
import type { EcgMoment } from '../../core/rhythm/rhythm-types.ts';
import { readStamp } from '../cli/clock.ts';
import type { ContrastSaid } from '../cli/contrast-said.ts';
import { readContrastRun } from '../contrast/read-contrast-run.ts';
import { readEcg } from '../jobs/ecg-job.ts';
import type { EcgDocument } from '../server/load-rhythm-case.ts';
import { hashText } from '../storage/hash-chain.ts';
import { judgeAddedIdentity } from './judge-added-identity.ts';
import type { AddedFile } from './added-file-types.ts';

interface Taken {
  readonly takenAt: string;
  readonly because: string | null;
}

/**
 * An angiographic run with contrast for a case file: measured as `trinadir contrast` does with proposed regions, its answer kept as
 * a document. The run's own bytes stay where they are. The same run with the same words changes nothing.
 * Fails     file-identity-differs, file-identity-open, and as readContrastRun and measureContrast
 */
export async function readAddedRun(path: string, bytes: Uint8Array, said: ContrastSaid, { takenAt, because }: Taken): Promise<Result<AddedFile, string>> {
  const stamp = readStamp();
  if (!stamp.ok) return stamp;
  const file = await readContrastRun(path);
  if (!file.ok) return file;
  const answer = measureContrast(file.value.run, said, stamp.value);
  if (!answer.ok) return answer;
  const document = JSON.stringify(answer.value);
  const blobSha256 = createHash('sha256').update(bytes).digest('hex');
  const { identity, xa } = file.value;
  const runId = `run-${blobSha256.slice(0, 32)}`;
  const angiogramId = `angiogram-${hashText(`${JSON.stringify(said)}\n${blobSha256}`).slice(0, 24)}`;
  return succeed({
    what: 'angiogram', document,
    listEvents(state) {
      if (state.result.angiograms.some((a) => a.angiogramId === angiogramId && a.withdrawn === null)) return succeed([]);
      const compared = judgeAddedIdentity(state, identity, because);
      if (!compared.ok) return compared;
      const { frameCount: frames, rows, columns, views } = xa;
      const joined: readonly NewCaseEvent[] = state.runs.some((r) => r.runId === runId) ? []
        : [{ kind: 'run.joined', data: { runId, blobSha256, frames, rows, columns, view: views[0] ?? null, identity: compared.value } }];
      return succeed([
        ...joined, { kind: 'angiogram.measured', data: { angiogramId, runId, answerSha256: hashText(document) } },
        // Without rate and loading it is no witness yet; entries say them.
        { kind: 'witness.noted', data: { of: angiogramId, takenAt, heartRatePerMin: null, loadingNote: null } },
      ]);
    },
  });
}

/**
 * A record of an ECG for a case file, of one moment: its intervals measured and kept as a document. What is a matter of words
 * (rhythm, blocks) is entered beside it.
 * Fails     file-identity-differs, file-identity-open, and as readEcg
 */
export function readAddedEcg(path: string, bytes: Uint8Array, moment: EcgMoment, channels: string | null, { takenAt, because }: Taken): Result<AddedFile, string> {
  const stamp = readStamp();
  if (!stamp.ok) return stamp;
  const read = readEcg({ path, channels, stamp: stamp.value });
  if (!read.ok) return read;
  const { identity, reading } = read.value;
  const document = JSON.stringify({ format: 'trinadir.ecg/1', reading } satisfies EcgDocument);
  const blobSha256 = createHash('sha256').update(bytes).digest('hex');
  return succeed({
    what: 'ECG', document,
    listEvents(state) {
      const known = state.result.ecgs[moment]?.joined;
      if (known?.blobSha256 === blobSha256 && known.takenAt === takenAt && channels === null) return succeed([]);
      const compared = judgeAddedIdentity(state, identity, because);
      if (!compared.ok) return compared;
      return succeed([{ kind: 'ecg.joined', data: { moment, blobSha256, readingSha256: hashText(document), takenAt, identity: compared.value } }]);
    },
  });
}
