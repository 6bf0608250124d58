import { computed, signal } from '@preact/signals';
import { describeEntry } from '../../core/room/describe-entry.ts';
import type { LoggedRecord } from '../../core/room/room-state.ts';
import type { RoomEntry } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { frozen, lastTap, logEntry, room } from '../state/room-log.ts';
import { formatClock } from './times.ts';

/** What was done last, in words that a reader of the screen hears too. */
export const tapNews = signal('');
/** The record that the next tap replaces; null: a tap is a new one. */
export const correcting = signal<LoggedRecord | null>(null);
/** Which button was just tapped: it says so for a moment. */
export const justTapped = signal<string | null>(null);
const SHOWN_MS = 1500;
let timer: ReturnType<typeof setTimeout> | null = null;

const nameCard = (id: string): string => frozen.value?.rescue.cards.find((c) => c.id === id)?.title ?? id;
export const say = (entry: RoomEntry): string => describeEntry(entry, nameCard);

/** One tap, one entry. `from`: the button, which says that it was heard. `corrects`: the record that it replaces. */
export function tap(entry: RoomEntry, from: string | null = null, corrects: string | null = null): void {
  const old = correcting.value;
  correcting.value = null;
  logEntry(entry, old?.entryId ?? corrects);
  tapNews.value = formatText(ROOM_EN, 'logged', { what: say(entry), at: formatClock(lastTap.value?.happenedAt ?? null) });
  justTapped.value = from;
  if (timer !== null) clearTimeout(timer);
  timer = setTimeout(() => (justTapped.value = null), SHOWN_MS);
}

/** Takes a record back. Of a correction, that means: what stood before it stands again. */
export function takeBack(record: LoggedRecord): void {
  if (record.entry === null) return;
  const { corrects } = record;
  const others = corrects === null ? [] : room.value.records.filter((r) => (r.entryId === corrects || r.corrects === corrects) && r.entryId !== record.entryId);
  const before = others.at(-1)?.entry ?? null;
  logEntry(before, corrects === null || others.length === 0 ? record.entryId : corrects);
  tapNews.value = formatText(ROOM_EN, 'undone', { what: say(record.entry) });
}
export function undoLast(): void {
  if (lastTap.value) takeBack(lastTap.value);
}
/** A record that was taken back counts again, at its own time. */
export function putBack(record: LoggedRecord): void {
  if (record.entry === null) return;
  logEntry(record.entry, record.entryId);
  tapNews.value = formatText(ROOM_EN, 'logged', { what: say(record.entry), at: formatClock(record.happenedAt) });
}
export const canUndo = computed(() => lastTap.value !== null);
