import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll } from 'vitest';
import { putEmptyDatabase } from '../../../../test/support/pglite-template.ts';
import { describeRoomStore } from '../room-store.suite.ts';
import { openPglite } from './open-pglite.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-room-'));
afterAll(() => rmSync(top, { recursive: true, force: true }));

describeRoomStore('PGlite', async () => {
  await putEmptyDatabase(top);
  return openPglite(top);
});
