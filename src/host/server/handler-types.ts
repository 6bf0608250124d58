import type { z } from 'zod';
import type { CaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Result } from '../../core/result.ts';
import type { Route, ROUTES, RouteName } from '../../formats/api/api-routes.ts';
import type { BlobStore, CaseStore, Person, StoredJob, StoredSession } from '../storage/store-types.ts';

/** What every handler may use. Made once per server. */
export interface Services {
  readonly store: CaseStore;
  readonly blobs: BlobStore;
  readonly jobs: JobRunner;
  readonly feed: CaseFeed;
  /** Folder of everything this server keeps: `db/`, `pixels/`, `uploads/`, `lock`. */
  readonly dataFolder: string;
  readonly version: string;
}
/** News of a case to the pages that look at it. In memory: a page that was away reads the case again. */
export interface CaseFeed {
  publish(caseId: string, news: CaseNews): void;
  follow(caseId: string, tell: (news: CaseNews) => void): () => void;
}
export type CaseNews =
  | { readonly kind: 'case'; readonly state: CaseState; readonly events: readonly CaseEvent[] }
  | { readonly kind: 'job'; readonly job: StoredJob };

/** Imports and plans, one at a time per case; a job that ran when the server died runs again at its next start. */
export interface JobRunner {
  start(job: StoredJob): Promise<Result<StoredJob, string>>;
  cancel(jobId: string): Promise<Result<StoredJob, string>>;
  /** Waiting and running jobs of the last server life. */
  resume(): Promise<void>;
  close(): Promise<void>;
}

/** One checked request. `caller` is null only where the route needs nobody. */
export interface Call<R extends Route> {
  readonly params: z.output<R['params']>;
  readonly query: z.output<R['query']>;
  readonly body: Exclude<R['body'], null> extends z.ZodNever ? null : z.output<Exclude<R['body'], null>>;
  readonly caller: Person | null;
  /** The caller's session; null with it. */
  readonly session: StoredSession | null;
  /** Where the connection comes from: an IP address. Behind a proxy it is the proxy's. */
  readonly address: string;
  readonly request: Request;
}
/** Streams are Responses; a JSON answer may be one too, when it sets a status or header. */
type AnswerOf<R extends Route> = z.input<Extract<R['answer'], z.ZodType>>;
/** A handler gives its answer, or a failure whose code says the HTTP status (api-status.ts). A throw is our defect: 500. */
export type Handler<R extends Route> = (call: Call<R>, services: Services) => Promise<Result<AnswerOf<R> | Response, string>>;
export type Handlers = { readonly [K in RouteName]: Handler<(typeof ROUTES)[K]> };
