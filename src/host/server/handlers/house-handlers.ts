import { succeed } from '../../../core/result.ts';
import { makeOpenApi } from '../../../formats/api/make-openapi.ts';
import { noteAudit } from '../door.ts';
import type { Handlers } from '../handler-types.ts';

export type HouseRoute = 'listAudit' | 'readHealth' | 'readOpenApi';
const HEALTH_MS = 2000;

/** The log, whether the store answers, and what can be asked here. */
export const HOUSE_HANDLERS: Pick<Handlers, HouseRoute> = {
  async listAudit({ query, caller }, { store }) {
    const noted = await noteAudit(store, caller!.personId, 'audit.read', { after: query.after, limit: query.limit }, query.caseId ?? null);
    if (!noted.ok) return noted;
    const entries = await store.listAudit({ caseId: query.caseId, afterSeq: query.after, limit: query.limit });
    return entries.ok ? succeed([...entries.value]) : entries;
  },

  async readHealth(_call, { store, version }) {
    let timer: NodeJS.Timeout | undefined;
    const late = new Promise<null>((resolve) => (timer = setTimeout(resolve, HEALTH_MS, null)));
    const asked = await Promise.race([store.listCases({ limit: 1 }), late]);
    clearTimeout(timer);
    const isReady = asked !== null && asked.ok;
    return succeed(Response.json({ store: isReady ? 'ready' : 'unreachable', version }, { status: isReady ? 200 : 503 }));
  },

  async readOpenApi(_call, { version }) {
    return succeed(Response.json(makeOpenApi(version)));
  },
};
