import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import type { RoomRecord } from '../../core/room/room-types.ts';
import type { RoomNews } from '../api/room-api.ts';

/** A record as this browser keeps it; `by` and `seq` are the server's and null before it has taken it. */
export interface KeptRecord extends RoomRecord {
  readonly by: string | null;
  readonly seq: number | null;
  /** The server has confirmed it; its place in the log may still be on the way. */
  readonly isSent?: true;
}
/** A tap that the server has not confirmed. `personId`: who was logged in; only their session sends it. */
export interface QueuedTap {
  readonly caseId: string;
  readonly personId: string | null;
  readonly record: RoomRecord;
}
/** What a page that has lost its server needs to know of its case. */
export type KeptRoom = Omit<RoomNews, 'records'> & { readonly newsAtMs: number };

interface RoomSchema extends DBSchema {
  queue: { key: string; value: QueuedTap; indexes: { caseId: string } };
  records: { key: string; value: { readonly caseId: string; readonly record: KeptRecord }; indexes: { caseId: string } };
  rooms: { key: string; value: KeptRoom };
  frozen: { key: string; value: string };
  notes: { key: string; value: unknown };
}
const NAME = 'trinadir-room';
const VERSION = 1;

let opening: Promise<IDBPDatabase<RoomSchema> | null> | null = null;
/** Null where this browser keeps nothing (private window, full disk): the page then says so and holds taps in memory. */
function open(): Promise<IDBPDatabase<RoomSchema> | null> {
  opening ??= openDB<RoomSchema>(NAME, VERSION, {
    upgrade(db) {
      db.createObjectStore('queue', { keyPath: 'record.entryId' }).createIndex('caseId', 'caseId');
      db.createObjectStore('records', { keyPath: 'record.entryId' }).createIndex('caseId', 'caseId');
      db.createObjectStore('rooms', { keyPath: 'caseId' });
      db.createObjectStore('frozen');
      db.createObjectStore('notes');
    },
    blocking: (_now, _next, event) => {
      opening = null; // a newer page wants another layout: let it in, open again when asked
      (event.target as IDBDatabase).close();
    },
    terminated: () => (opening = null),
  }).catch(() => null);
  return opening;
}

/** One use of the store; what fails is null or `otherwise`, never a throw: a tap must not stop for it. */
async function use<T>(otherwise: T, work: (db: IDBPDatabase<RoomSchema>) => Promise<T>): Promise<T> {
  const db = await open();
  if (db === null) return otherwise;
  try {
    return await work(db);
  } catch {
    return otherwise;
  }
}

/** True once the tap is on the disk: flushed, not only handed to the system. */
export const putTap = (tap: QueuedTap): Promise<boolean> =>
  use(false, async (db) => {
    const change = db.transaction('queue', 'readwrite', { durability: 'strict' });
    await Promise.all([change.store.put(tap), change.done]);
    return true;
  });
export const listTaps = (caseId: string): Promise<QueuedTap[]> => use<QueuedTap[]>([], (db) => db.getAllFromIndex('queue', 'caseId', caseId));
export const countTaps = (): Promise<number> => use(0, (db) => db.count('queue'));
/**
 * The server has them: they leave the queue and stay as records. `room`: up to which event this browser now has all; in the
 * same step, so that a page that is closed in between never believes it has what it has not.
 */
export const settleTaps = (caseId: string, records: readonly KeptRecord[], room: KeptRoom | null = null): Promise<boolean> =>
  use(false, async (db) => {
    if (records.length === 0 && room === null) return true;
    const change = db.transaction(['queue', 'records', 'rooms'], 'readwrite');
    for (const record of records) {
      void change.objectStore('records').put({ caseId, record });
      void change.objectStore('queue').delete(record.entryId);
    }
    if (room !== null) void change.objectStore('rooms').put(room);
    await change.done;
    return true;
  });
export const listRecords = (caseId: string): Promise<KeptRecord[]> => use<KeptRecord[]>([], async (db) => (await db.getAllFromIndex('records', 'caseId', caseId)).map((each) => each.record));

export const readKeptRoom = (caseId: string): Promise<KeptRoom | null> => use<KeptRoom | null>(null, async (db) => (await db.get('rooms', caseId)) ?? null);
export const putFrozenText = (sha256: string, text: string): Promise<unknown> => use<unknown>(null, (db) => db.put('frozen', text, sha256));
export const readFrozenText = (sha256: string): Promise<string | null> => use<string | null>(null, async (db) => (await db.get('frozen', sha256)) ?? null);
export const putNote = (name: string, value: unknown): Promise<unknown> => use<unknown>(null, (db) => db.put('notes', value, name));
export const readNote = (name: string): Promise<unknown> => use<unknown>(null, (db) => db.get('notes', name));
export const canKeep = async (): Promise<boolean> => (await open()) !== null;

/** Other cases that were not heard of since then go, except taps that the server has not. */
export const forgetOld = (caseId: string, beforeMs: number): Promise<unknown> =>
  use<unknown>(null, async (db) => {
    const old = (await db.getAll('rooms')).filter((room) => room.caseId !== caseId && room.newsAtMs < beforeMs);
    if (old.length === 0) return;
    const change = db.transaction(['rooms', 'records', 'frozen'], 'readwrite');
    for (const room of old) {
      void change.objectStore('rooms').delete(room.caseId);
      if (room.frozen) void change.objectStore('frozen').delete(room.frozen.frozenSha256);
      for (const key of await change.objectStore('records').index('caseId').getAllKeys(room.caseId)) void change.objectStore('records').delete(key);
    }
    await change.done;
  });

/**
 * At log-out: everything goes that the server has too. Taps it has not stay until whoever made them logs in again;
 * gives how many those are.
 */
export const clearKept = (): Promise<number> =>
  use(0, async (db) => {
    const change = db.transaction(['records', 'rooms', 'frozen', 'notes', 'queue'], 'readwrite');
    await Promise.all([...(['records', 'rooms', 'frozen', 'notes'] as const).map((name) => change.objectStore(name).clear()), change.done]);
    return db.count('queue');
  });
