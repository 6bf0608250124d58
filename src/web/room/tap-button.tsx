import type { ComponentChildren } from 'preact';
import type { RoomEntry } from '../../core/room/room-types.ts';
import { justTapped, say, tap } from './taps.ts';

/** A tap of the room: never refused, never asks back; says for a moment that it was heard. */
export function TapButton({ entry, label, help, isOn, isMain, keyName, onTap }: {
  readonly entry: RoomEntry;
  readonly label?: string;
  readonly help?: string | undefined;
  /** What is so now: shown by a filled mark, not by colour. */
  readonly isOn?: boolean;
  readonly isMain?: boolean;
  readonly keyName?: string | undefined;
  readonly onTap?: () => void;
}) {
  const name = label ?? say(entry);
  const key = `${name} ${JSON.stringify(entry)}`;
  const wasTapped = justTapped.value === key;
  const press = (): void => {
    tap(entry, key);
    onTap?.();
  };
  return (
    <button type="button" class={`tap${isMain ? ' main' : ''}${isOn ? ' is-on' : ''}${wasTapped ? ' was-tapped' : ''}`} {...(isOn === undefined ? {} : { 'aria-pressed': isOn })} onClick={press}>
      <span class="tap-name">{isOn !== undefined && <Mark isOn={isOn} />}{name}</span>
      {help && <span class="tap-help">{help}</span>}
      {keyName && <kbd aria-hidden="true">{keyName}</kbd>}
      <span class="tap-heard" aria-hidden="true">{wasTapped ? '✓' : ''}</span>
    </button>
  );
}

function Mark({ isOn }: { readonly isOn: boolean }) {
  return (
    <svg class="tap-mark" viewBox="0 0 14 14" width="14" height="14" aria-hidden="true">
      <circle cx="7" cy="7" r="5.6" fill={isOn ? 'currentColor' : 'none'} stroke="currentColor" stroke-width="1.4" />
    </svg>
  );
}

export function TapGroup({ title, children, className }: { readonly title: string; readonly children: ComponentChildren; readonly className?: string }) {
  return (
    <fieldset class={`taps ${className ?? ''}`}>
      <legend>{title}</legend>
      <div class="tap-row">{children}</div>
    </fieldset>
  );
}
