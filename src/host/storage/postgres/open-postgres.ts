import { Kysely, PostgresDialect } from 'kysely';
import pg from 'pg';
import type { StoreTables } from '../tables.ts';

const MOST_CONNECTIONS = 8;
const CONNECT_WITHIN_MS = 5_000;
const ANSWER_WITHIN_MS = 60_000;

/** PostgreSQL 15 or newer at `url`. Nothing is connected yet; a database that is away and comes back is found again. */
export function openPostgres(url: string): Kysely<StoreTables> {
  const pool = new pg.Pool({
    connectionString: url, max: MOST_CONNECTIONS, connectionTimeoutMillis: CONNECT_WITHIN_MS, idleTimeoutMillis: 30_000, application_name: 'trinadir',
    statement_timeout: ANSWER_WITHIN_MS, idle_in_transaction_session_timeout: ANSWER_WITHIN_MS, keepAlive: true,
  });
  pool.on('error', () => {}); // an idle connection was cut; the next query opens another or says why not
  pool.on('connect', (client) => client.on('error', () => {})); // one in use was cut between two queries; the next one says so
  return new Kysely<StoreTables>({ dialect: new PostgresDialect({ pool }) });
}
