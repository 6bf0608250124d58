import type { PGlite, Results } from '@electric-sql/pglite';
import { CompiledQuery, PostgresAdapter, PostgresIntrospector, PostgresQueryCompiler, type DatabaseConnection, type Dialect, type Driver, type QueryResult } from 'kysely';
import { EngineGone } from '../store-failures.ts';

/** The embedded engine of one data folder; `get` opens it again after it broke. */
export interface PgliteSource {
  get(): Promise<PGlite>;
  /** The engine ended by itself (disk full in the middle of its log); the next `get` opens the folder anew. */
  drop(pg: PGlite): void;
  close(): Promise<void>;
}

/**
 * Kysely over PGlite. The engine is one connection: who wants it waits until the one before has given it back, so that
 * transactions never mix.
 */
export function makePgliteDialect(source: PgliteSource): Dialect {
  return {
    createAdapter: () => new PostgresAdapter(),
    createDriver: () => makeDriver(source),
    createIntrospector: (db) => new PostgresIntrospector(db),
    createQueryCompiler: () => new PostgresQueryCompiler(),
  };
}

function makeDriver(source: PgliteSource): Driver {
  let last: Promise<void> = Promise.resolve();
  const release = new WeakMap<DatabaseConnection, () => void>();
  const run = async (connection: DatabaseConnection, sql: string): Promise<void> => void (await connection.executeQuery(CompiledQuery.raw(sql)));
  return {
    init: async () => {},
    async acquireConnection() {
      const before = last;
      let done = (): void => {};
      last = new Promise((resolve) => (done = resolve));
      await before;
      try {
        const pg = await source.get();
        const connection = makeConnection(pg, () => source.drop(pg));
        release.set(connection, done);
        return connection;
      } catch (problem) {
        done();
        throw problem;
      }
    },
    beginTransaction: (connection, { isolationLevel }) => run(connection, isolationLevel ? `start transaction isolation level ${isolationLevel}` : 'begin'),
    commitTransaction: (connection) => run(connection, 'commit'),
    rollbackTransaction: (connection) => run(connection, 'rollback'),
    releaseConnection: async (connection) => release.get(connection)?.(),
    destroy: () => source.close(),
  };
}

function makeConnection(pg: PGlite, drop: () => void): DatabaseConnection {
  return {
    async executeQuery<R>({ sql, parameters }: CompiledQuery): Promise<QueryResult<R>> {
      let results: Results<R>;
      try {
        results = await pg.query<R>(sql, [...parameters]);
      } catch (problem) {
        if (!isStatementError(problem)) {
          drop();
          throw isFullDisk(problem) ? problem : new EngineGone('The embedded engine ended.', { cause: problem });
        }
        throw problem;
      }
      return results.affectedRows === undefined ? { rows: results.rows } : { rows: results.rows, numAffectedRows: BigInt(results.affectedRows) };
    },
    // eslint-disable-next-line require-yield -- the interface asks for a generator; nothing here streams
    async *streamQuery(): AsyncIterableIterator<never> {
      throw new Error('The embedded engine does not stream.');
    },
  };
}

/** The engine answered "no" to one statement and lives on; anything else is the engine's own end. */
const isStatementError = (problem: unknown): boolean => /^[0-9A-Z]{5}$/.test((problem as { code?: string } | null)?.code ?? '') && (problem as { severity?: string }).severity === 'ERROR';
const isFullDisk = (problem: unknown): boolean => (problem as { code?: string } | null)?.code === 'ENOSPC' || /no space left on device/i.test(String((problem as Error | null)?.message));
