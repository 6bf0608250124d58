import type { ComponentChildren } from 'preact';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import type { ApiFailure } from '../api/call-api.ts';

/** Something that is in doubt or did not work: words first, always with the hatch, never by colour alone. */
export function Notice({ title, children, isUrgent }: { readonly title?: string; readonly children?: ComponentChildren; readonly isUrgent?: boolean }) {
  return (
    <div class="notice" role={isUrgent ? 'alert' : 'status'}>
      {title && <b class="tag">{title}</b>}
      <div>{children}</div>
    </div>
  );
}

/** A refusal with what to do. */
export function FailureNotice({ failure, title, onAgain }: { readonly failure: ApiFailure; readonly title?: string; readonly onAgain?: () => void }) {
  return (
    <Notice {...(title === undefined ? {} : { title })} isUrgent>
      <p>{failure.message}</p>
      <p class="soft">{formatText(DESK_EN, 'next', { next: failure.nextStep })}</p>
      {onAgain && <button type="button" onClick={onAgain}>{DESK_EN.tryAgain}</button>}
    </Notice>
  );
}
