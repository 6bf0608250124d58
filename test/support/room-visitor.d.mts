import type { RoomEntry, RoomRecord } from '../../src/core/room/room-types.ts';

export interface RoomVisitor {
  readonly origin: string;
  ask<T = Record<string, unknown>>(path: string, options?: { readonly method?: string; readonly body?: unknown }): Promise<T>;
  follow(caseId: string, after: number, tell: (record: RoomRecord & { readonly by: string; readonly seq: number }) => void): Promise<() => void>;
}
export function enterFirst(desk: { readonly url: string; readonly origin: string }): Promise<RoomVisitor>;
export function makeTap(clientId: string, count: number, entry: RoomEntry | null, atMs?: number): RoomRecord;
