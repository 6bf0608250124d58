import { FIRST_TABLES } from './0001-first-tables.ts';
import { ROOM } from './0002-room.ts';
import type { Migration } from './migration-types.ts';

export const MIGRATIONS: readonly Migration[] = [FIRST_TABLES, ROOM];
