import type { z } from 'zod';
import type { CaseEvent } from '../../core/case/case-events.ts';
import type { Failure } from '../../core/result.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { API_ERROR, ROUTES, type Route, type RouteName } from '../../formats/api/api-routes.ts';

/** A refusal of the server, or of the way to it. */
export interface ApiFailure extends Failure<string> {
  /** HTTP status; 0 when no answer came. */
  readonly status: number;
  /** With `case-changed`: the events this page had not seen. */
  readonly newer: readonly CaseEvent[];
}
export type ApiResult<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly failure: ApiFailure };

type Table = typeof ROUTES;
/** Input of a schema; of a union with `null` or a kind of stream, that of its schema. */
type Given<S> = S extends z.ZodType ? z.input<S> : never;
/** A strict object without fields has any key in its type, and none in fact. */
type IsEmpty<T> = unknown extends T ? false : string extends keyof T ? true : [keyof T] extends [never] ? true : false;
type Params<T> = IsEmpty<T> extends true ? object : { readonly params: T };
type Query<T> = IsEmpty<T> extends true ? object : { readonly query?: T };
type Body<T> = [T] extends [never] ? object : { readonly body: T };
export type ApiAsk<N extends RouteName> = { readonly mostMs?: number } & Params<Given<Table[N]['params']>> & Query<Given<Table[N]['query']>> & Body<Given<Extract<Table[N]['body'], z.ZodType>>>;
/** A route that answers with a stream has no schema of its own. */
type AnswerSchema<N extends RouteName> = Extract<Table[N]['answer'], z.ZodType>;
export type ApiAnswer<N extends RouteName> = [AnswerSchema<N>] extends [never] ? Response : z.ZodType extends AnswerSchema<N> ? Response : z.output<AnswerSchema<N>>;

let csrfToken: string | null = null;
let onSessionLost: () => void = () => undefined;
/** The token of the session stands in a header of every request that changes something. */
export function setCsrfToken(token: string | null): void {
  csrfToken = token;
}
/** For requests that do not go through this file: uploads. */
export const readCsrfToken = (): string | null => csrfToken;
/** What happens when the server no longer knows this session. */
export function whenSessionLost(tell: () => void): void {
  onSessionLost = tell;
}

interface LooseAsk {
  /** Given up after this long, as if the server were gone: a cut cable answers nothing. */
  readonly mostMs?: number;
  readonly params?: Readonly<Record<string, string>>;
  readonly query?: Readonly<Record<string, unknown>>;
  readonly body?: unknown;
}

/** Address of a route with its parameters put in. */
export function makeApiPath(name: RouteName, ask: LooseAsk = {}): string {
  const filled = ROUTES[name].path.replace(/\{(\w+)\}/g, (_hole, key: string) => encodeURIComponent(String(ask.params?.[key] ?? '')));
  const query = Object.entries(ask.query ?? {}).filter(([, v]) => v !== undefined && v !== '');
  return query.length === 0 ? filled : `${filled}?${new URLSearchParams(query.map(([k, v]) => [k, String(v)] as [string, string]))}`;
}

/**
 * One request by its name in the table of routes.
 * Fails     server-unreachable, answer-not-understood, or the code the server gave
 */
export async function callApi<N extends RouteName>(name: N, ...[ask]: Record<string, never> extends ApiAsk<N> ? [ApiAsk<N>?] : [ApiAsk<N>]): Promise<ApiResult<ApiAnswer<N>>> {
  const route: Route = ROUTES[name];
  const loose: LooseAsk = ask ?? {};
  let response: Response;
  try {
    response = await fetch(makeApiPath(name, loose), {
      method: route.method,
      credentials: 'same-origin',
      ...(loose.mostMs === undefined ? {} : { signal: AbortSignal.timeout(loose.mostMs) }),
      headers: {
        accept: 'application/json',
        ...(loose.body !== undefined ? { 'content-type': 'application/json' } : {}),
        ...(route.method !== 'GET' && csrfToken !== null ? { 'x-trinadir-csrf': csrfToken } : {}),
      },
      ...(loose.body !== undefined ? { body: JSON.stringify(loose.body) } : {}),
    });
  } catch {
    return refuse(0, 'server-unreachable', DESK_EN.unreachable, DESK_EN.unreachableNext);
  }
  if (!response.ok) return readRefusal(name, response);
  return readAnswer<N>(route, response);
}

async function readAnswer<N extends RouteName>(route: Route, response: Response): Promise<ApiResult<ApiAnswer<N>>> {
  if (typeof route.answer === 'string') return { ok: true, value: response as ApiAnswer<N> };
  const parsed = route.answer.safeParse(await response.json().catch(() => undefined));
  if (!parsed.success) return refuse(response.status, 'answer-not-understood', DESK_EN.notUnderstood, DESK_EN.notUnderstoodNext);
  return { ok: true, value: parsed.data as ApiAnswer<N> };
}

function refuse(status: number, code: string, message: string, nextStep: string, newer: readonly CaseEvent[] = []): { readonly ok: false; readonly failure: ApiFailure } {
  return { ok: false, failure: { status, code, message, nextStep, evidence: {}, newer } };
}

async function readRefusal(name: RouteName, response: Response): Promise<{ readonly ok: false; readonly failure: ApiFailure }> {
  const parsed = API_ERROR.safeParse(await response.json().catch(() => undefined));
  if (response.status === 401 && name !== 'openSession' && name !== 'readSession') onSessionLost();
  if (!parsed.success) return refuse(response.status, 'server-refused', DESK_EN.refusedPlain, DESK_EN.unreachableNext);
  const { code, text, next } = parsed.data.error;
  return refuse(response.status, code, text, next, parsed.data.newer ?? []);
}

/** A file that belongs to the pages themselves; null when neither server nor browser gives it. */
export async function readPageFile(path: string): Promise<ArrayBuffer | null> {
  try {
    const response = await fetch(path, { credentials: 'same-origin' });
    return response.ok ? await response.arrayBuffer() : null;
  } catch {
    return null;
  }
}

/**
 * One file as the body of a request; tells how much of it has gone (fetch cannot).
 * Fails     as callApi
 */
export function sendFile<N extends RouteName>(name: N, ask: LooseAsk, file: Blob, tell: (ratio: number) => void, headers: Readonly<Record<string, string>> = {}): Promise<ApiResult<ApiAnswer<N>>> {
  const route: Route = ROUTES[name];
  return new Promise((resolve) => {
    const request = new XMLHttpRequest();
    request.open(route.method, makeApiPath(name, ask));
    request.setRequestHeader('accept', 'application/json');
    request.setRequestHeader('content-type', 'application/octet-stream');
    if (csrfToken !== null) request.setRequestHeader('x-trinadir-csrf', csrfToken);
    for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
    request.upload.onprogress = ({ loaded, total }) => tell(total > 0 ? loaded / total : 0);
    request.onerror = () => resolve(refuse(0, 'server-unreachable', DESK_EN.unreachable, DESK_EN.unreachableNext));
    request.onload = () => {
      const response = new Response(request.responseText, { status: request.status });
      resolve(response.ok ? readAnswer<N>(route, response) : readRefusal(name, response));
    };
    request.send(file);
  });
}

/**
 * A part of a CSV stream as the body of a request.
 * Fails     as callApi
 */
export async function sendText<N extends RouteName>(name: N, ask: LooseAsk, text: string): Promise<ApiResult<ApiAnswer<N>>> {
  const route: Route = ROUTES[name];
  let response: Response;
  try {
    response = await fetch(makeApiPath(name, ask), { method: route.method, credentials: 'same-origin', headers: { accept: 'application/json', 'content-type': 'text/csv', ...(csrfToken === null ? {} : { 'x-trinadir-csrf': csrfToken }) }, body: text });
  } catch {
    return refuse(0, 'server-unreachable', DESK_EN.unreachable, DESK_EN.unreachableNext);
  }
  return response.ok ? readAnswer<N>(route, response) : readRefusal(name, response);
}
