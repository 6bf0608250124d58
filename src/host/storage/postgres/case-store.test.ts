import { afterAll, describe } from 'vitest';
import { findPostgres, startPostgres, type PostgresServer } from '../../../../test/support/postgres-server.ts';
import { describeCaseStore } from '../case-store.suite.ts';
import { openPostgres } from './open-postgres.ts';

describe.skipIf(findPostgres() === null)('where PostgreSQL 15 or newer is installed', () => {
  let server: PostgresServer | null = null;
  describeCaseStore('PostgreSQL', async () => {
    server = await startPostgres();
    return openPostgres(server.url);
  });
  afterAll(() => server?.remove());
});
