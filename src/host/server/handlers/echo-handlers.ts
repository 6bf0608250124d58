import { rm } from 'node:fs/promises';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { RECORDINGS_EN } from '../../../core/text/recordings-en.ts';
import { RUNS_EN } from '../../../core/text/runs-en.ts';
import { BECAUSE_HEADER, MOST_RUN_BYTES } from '../../../formats/api/run-schemas.ts';
import { addCaseEvent } from '../../jobs/add-case-event.ts';
import type { EchoFileRead, EchoFrame, EchoPicture } from '../../jobs/echo-jobs.ts';
import type { ThreadDesk } from '../../jobs/thread-desk.ts';
import type { Handlers, Services } from '../handler-types.ts';
import { judgeFileIdentity, readReason } from '../judge-file-identity.ts';
import { takeRunFile } from '../take-run-file.ts';
import { FOR_EVER } from './plan-handlers.ts';

export type EchoRoute = 'addEchoFile' | 'readEchoPicture' | 'readEchoFrame';

/** Files of an echo: reports, whose measurements become entries, and pictures on which a person traces. */
export function makeEchoHandlers(thread: ThreadDesk): Pick<Handlers, EchoRoute> {
  return {
    async addEchoFile({ params: { caseId, echoId }, caller, request }, services) {
      const { store, blobs } = services;
      const because = readReason(request.headers.get(BECAUSE_HEADER));
      if (because === undefined) return fail('request-invalid', RUNS_EN.reasonUnread, RUNS_EN.reasonUnreadNext);
      const before = await store.readState(caseId);
      if (!before.ok) return before;
      if (!before.value.result.echoes.some((e) => e.echoId === echoId)) return fail('echo-unknown', RECORDINGS_EN.echoUnknown, RECORDINGS_EN.echoUnknownNext);
      const file = await takeRunFile(request, services.dataFolder, MOST_RUN_BYTES);
      if (!file.ok) return file;
      try {
        const read = await thread.run<Result<EchoFileRead, string>>('read-echo-file', { path: file.value });
        if (!read.ok) return read;
        const state = await store.readState(caseId);
        if (!state.ok) return state;
        const identity = judgeFileIdentity(state.value, read.value.identity, because);
        if (!identity.ok) return identity;
        const kept = await blobs.adopt(file.value);
        if (!kept.ok) return kept;
        const blobSha256 = kept.value.sha256;
        const { is, fields, halfWidths, findings } = read.value;
        const answer = { echoId, blobSha256, is, fields: { ...fields }, findings: [...findings] };
        if (state.value.result.echoes.find((e) => e.echoId === echoId)?.files.some((f) => f.blobSha256 === blobSha256)) return succeed(answer);
        const added = await addCaseEvent(services, caseId, caller!.personId, { kind: 'echo.joined', data: { echoId, blobSha256, is, fields, halfWidths, identity: identity.value } });
        return added.ok ? succeed(answer) : added;
      } finally {
        await rm(file.value, { force: true }).catch(() => {});
      }
    },

    async readEchoPicture({ params: { caseId, echoId, sha256 } }, services) {
      const path = await findPicture(services, caseId, echoId, sha256);
      return path.ok ? thread.run<Result<EchoPicture, string>>('read-echo-picture', { path: path.value }) : path;
    },

    async readEchoFrame({ params: { caseId, echoId, sha256, number } }, services) {
      const path = await findPicture(services, caseId, echoId, sha256);
      if (!path.ok) return path;
      const frame = await thread.run<Result<EchoFrame, string>>('draw-echo-frame', { path: path.value, number: Number(number) });
      if (!frame.ok) return frame;
      const { kind, rows, columns, bytes } = frame.value;
      return succeed(new Response(bytes as Uint8Array<ArrayBuffer>, { headers: { ...FOR_EVER, 'Content-Type': kind === 'jpeg' ? 'image/jpeg' : 'application/octet-stream', 'Content-Length': String(bytes.length), 'X-Rows': String(rows), 'X-Columns': String(columns) } }));
    },
  };
}

/** A hash alone opens nothing: the picture must be this echo's. */
async function findPicture({ store, blobs }: Pick<Services, 'store' | 'blobs'>, caseId: string, echoId: string, sha256: string): Promise<Result<string, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const echo = state.value.result.echoes.find((e) => e.echoId === echoId);
  if (!echo) return fail('echo-unknown', RECORDINGS_EN.echoUnknown, RECORDINGS_EN.echoUnknownNext);
  if (!echo.files.some((f) => f.is === 'picture' && f.blobSha256 === sha256)) return fail('picture-unknown', RECORDINGS_EN.pictureUnknown, RECORDINGS_EN.pictureUnknownNext);
  return (await blobs.has(sha256)) ? succeed(blobs.pathOf(sha256)) : fail('picture-gone', RECORDINGS_EN.pictureGone, RECORDINGS_EN.pictureGoneNext);
}
