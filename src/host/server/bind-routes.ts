import type { HttpBindings } from '@hono/node-server';
import type { Context, Hono } from 'hono';
import type { z } from 'zod';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { ROUTES, type Route, type RouteName } from '../../formats/api/api-routes.ts';
import { isUnsafeMethod } from '../security/check-origin.ts';
import { isAllowed, isInScope } from '../security/roles.ts';
import { answerFailure } from './api-status.ts';
import { checkCsrf, findAnyCaller, noteAudit, type Door } from './door.ts';
import type { Call, Handler, Handlers, Services } from './handler-types.ts';
import { readBody } from './read-body.ts';

export type DeskContext = Context<{ Bindings: HttpBindings }>;
export type DeskApp = Hono<{ Bindings: HttpBindings }>;

export interface BindOptions {
  readonly services: Services;
  readonly door: Door;
  /** Checks each answer against its shape; a wrong one is our defect. On in tests. */
  readonly checkAnswers?: boolean;
}

/** Routes whose reading is repeated while a hand moves: noted once a minute per person and case. */
const OFTEN: ReadonlySet<RouteName> = new Set<RouteName>(['askWhatIf', 'followCase', 'readJob', 'readRunFrame', 'readEchoFrame', 'readTrace', 'appendLive', 'readRoom', 'followRoom', 'readFrozen', 'listPairings']);
const OFTEN_MS = 60_000;
/** Case writes are events, with author and time, in the case's own chain. */
const IN_CASE_LOG: ReadonlySet<RouteName> = new Set<RouteName>(['addEvents', 'openCase', 'logRoom']);

/** Binds every route of the table to its handler, behind session, role, mark, shape and log. */
export function bindRoutes(app: DeskApp, handlers: Handlers, options: BindOptions): void {
  const noted = new Map<string, number>();
  const byPath = new Map<string, string[]>();
  for (const [name, route] of Object.entries(ROUTES) as [RouteName, Route][]) {
    const path = route.path.replace(/\{(\w+)\}/g, ':$1');
    byPath.set(path, [...(byPath.get(path) ?? []), route.method]);
    // The table's key ties each handler to its route; inside the loop the compiler sees their union only.
    app.on(route.method, path, (c) => answerRoute(c, name, route, handlers[name] as unknown as Handler<Route>, options, noted));
  }
  for (const [path, methods] of byPath) {
    const allow = [...methods, ...(methods.includes('GET') ? ['HEAD'] : [])].sort().join(', ');
    app.all(path, () => answerFailure(fail('method-wrong', SERVER_EN.methodWrong, SERVER_EN.methodWrongNext).failure, { headers: { Allow: allow } }));
  }
}

async function answerRoute(c: DeskContext, name: RouteName, route: Route, handler: Handler<Route>, options: BindOptions, noted: Map<string, number>): Promise<Response> {
  const { services, door } = options;
  const { raw: request } = c.req;
  const found = await findAnyCaller(request.headers, door);
  // Without the store nobody is known; what needs nobody answers all the same.
  if (!found.ok && route.needs !== 'nobody') return answerFailure(found.failure);
  const caller = found.ok ? found.value : null;
  if (route.needs !== 'nobody') {
    if (caller === null) return answerFailure(fail('not-logged-in', SERVER_EN.notLoggedIn, SERVER_EN.notLoggedInNext).failure);
    const marked = checkCsrf(request, caller);
    if (!marked.ok) return answerFailure(marked.failure);
    const { scope } = caller.session;
    if (!isAllowed(caller.person.role, route.needs) || (scope && !isInScope(scope, name, c.req.param('caseId')))) {
      const refused = await noteAudit(services.store, caller.person.personId, 'access.refused', { route: name, ...(scope ? { pairingId: scope.pairingId } : {}) });
      if (!refused.ok) return answerFailure(refused.failure);
      return answerFailure((scope ? fail('not-allowed', SERVER_EN.notInScope, SERVER_EN.notInScopeNext) : fail('not-allowed', SERVER_EN.notAllowed, SERVER_EN.notAllowedNext)).failure);
    }
  }
  const asked = await readAsked(c, route);
  if (!asked.ok) return answerFailure(asked.failure);
  if (request.method === 'HEAD' && route.answer === 'event-stream') return new Response(null, { headers: { 'Content-Type': 'text/event-stream' } });
  if (caller !== null) {
    const note = await noteRoute(name, route, asked.value.params, caller.person.personId, options, noted);
    if (!note.ok) return answerFailure(note.failure);
  }
  const call: Call<Route> = { ...asked.value, caller: caller?.person ?? null, session: caller?.session ?? null, address: c.env.incoming.socket.remoteAddress ?? '', request };
  const outcome = await handler(call, services);
  if (!outcome.ok) return answerFailure(outcome.failure);
  if (outcome.value instanceof Response) return outcome.value;
  if (options.checkAnswers === true && typeof route.answer !== 'string') route.answer.parse(outcome.value);
  return Response.json(outcome.value);
}

/** What was asked, checked. Says where it does not fit, never what stood there. */
async function readAsked(c: DeskContext, route: Route): Promise<Result<Pick<Call<Route>, 'params' | 'query' | 'body'>, string>> {
  const invalid = (part: string, error: z.ZodError | null, twice = '') => {
    const issue = error?.issues[0];
    const where = [part, ...(issue?.path ?? []).map(String)].join('.');
    const problem = twice || (issue?.code === 'unrecognized_keys' ? 'a field that is not known' : (issue?.code ?? 'unknown').replaceAll('_', ' '));
    return fail('request-invalid', formatText(SERVER_EN, 'requestInvalid', { where, problem }), SERVER_EN.requestInvalidNext, { where });
  };
  const params = route.params.safeParse(c.req.param());
  if (!params.success) return invalid('path', params.error);
  const entries = [...new URL(c.req.url).searchParams];
  if (new Set(entries.map(([key]) => key)).size !== entries.length) return invalid('query', null, 'a field stands twice');
  const query = route.query.safeParse(Object.fromEntries(entries));
  if (!query.success) return invalid('query', query.error);
  if (route.body === null) return succeed({ params: params.data, query: query.data, body: null as never });
  const body = await readBody(c.req.raw, route.mostBytes);
  if (!body.ok) return body;
  const checked = route.body.safeParse(body.value);
  return checked.success ? succeed({ params: params.data, query: query.data, body: checked.data as never }) : invalid('body', checked.error);
}

/** Notes a read or a write of a case before it is answered: what cannot be noted is not answered. */
async function noteRoute(name: RouteName, route: Route, params: unknown, personId: string, options: BindOptions, noted: Map<string, number>): Promise<Result<unknown, string>> {
  const { jobId, ...named } = params as { readonly caseId?: string; readonly jobId?: string };
  if (IN_CASE_LOG.has(name) || (named.caseId === undefined && jobId === undefined)) return succeed(null);
  const job = jobId === undefined ? succeed(null) : await options.services.store.findJob(jobId);
  if (!job.ok) return job;
  const caseId = named.caseId ?? job.value?.caseId ?? null;
  if (OFTEN.has(name)) {
    const key = `${personId} ${caseId ?? jobId} ${name}`;
    const nowMs = options.door.readNow();
    if (nowMs - (noted.get(key) ?? -Infinity) < OFTEN_MS) return succeed(null);
    if (noted.size > 10_000) noted.clear();
    noted.set(key, nowMs);
  }
  const isWrite = isUnsafeMethod(route.method) && route.needs !== 'read-case';
  return noteAudit(options.services.store, personId, isWrite ? 'case.written' : 'case.read', { what: name, ...(jobId === undefined ? {} : { jobId }) }, caseId);
}
