import { afterAll, describe } from 'vitest';
import { findPostgres, startPostgres, type PostgresServer } from '../../../../test/support/postgres-server.ts';
import { describeRoomStore } from '../room-store.suite.ts';
import { openPostgres } from './open-postgres.ts';

describe.skipIf(findPostgres() === null)('where PostgreSQL 15 or newer is installed', () => {
  let server: PostgresServer | null = null;
  describeRoomStore('PostgreSQL', async () => {
    server = await startPostgres();
    return openPostgres(server.url);
  });
  afterAll(() => server?.remove());
});
