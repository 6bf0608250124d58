import { signal } from '@preact/signals';
import { readServerNow } from '../state/room-log.ts';

/** Server time of what is on the wall: it moves once a second, with news and with a pedal. */
export const shownMs = signal(0);
export const showNow = (): number => (shownMs.value = readServerNow());
