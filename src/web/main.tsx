import { render } from 'preact';
import { z } from 'zod';
import './style/section-style.css';
import './style/desk.css';
import { Desk } from './desk.tsx';
import { readSession } from './state/session.ts';
import { restoreTheme } from './state/theme.ts';

// The content policy forbids code made from text; without this the checker of answers would try it once and be reported.
z.config({ jitless: true });
/** Files let go beside the place for them: the browser would leave this page and open them. */
for (const kind of ['dragover', 'drop'] as const) {
  addEventListener(kind, (event) => {
    if (event.defaultPrevented || !event.dataTransfer?.types.includes('Files')) return;
    event.preventDefault();
    event.dataTransfer.dropEffect = 'none';
  });
}
restoreTheme();
void readSession();
render(<Desk />, document.getElementById('desk')!);
