import { afterAll, describe, test } from 'vitest';
import { findPostgres, startPostgres, type PostgresServer } from '../../../../test/support/postgres-server.ts';
import { describeCaseStore } from '../case-store.suite.ts';
import { openPostgres } from './open-postgres.ts';

if (findPostgres() === null) {
  describe('case store on PostgreSQL', () => test.skip('needs PostgreSQL 15 or newer', () => {}));
} else {
  let server: PostgresServer | null = null;
  describeCaseStore('PostgreSQL', async () => {
    server = await startPostgres();
    return openPostgres(server.url);
  });
  afterAll(() => server?.remove());
}
