import { fail } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { isSameToken, makeSecretToken } from '../security/secret-token.ts';
import { SESSION_TIMES } from '../security/sessions.ts';
import { answerFailure } from './api-status.ts';
import type { DeskApp } from './bind-routes.ts';
import { formatCookie, noteAudit, readCookie, type Door } from './door.ts';
import type { Services } from './handler-types.ts';

/**
 * The demo's door: who opens the printed address is logged in as the demo's person. Gives its path, which holds a
 * secret. The training case alone lies behind it.
 */
export function addStartDoor(app: DeskApp, options: { readonly door: Door; readonly services: Services; readonly personId: string; readonly page: string }): string {
  const { door, services: { store }, personId } = options;
  const startToken = makeSecretToken();
  app.get('/start/:token', async (c) => {
    if (!isSameToken(c.req.param('token'), startToken)) return answerFailure(fail('start-token-wrong', SERVER_EN.startTokenWrong, SERVER_EN.startTokenWrongNext).failure);
    const noted = await noteAudit(store, personId, 'session.opened', { how: 'start address' });
    const opened = noted.ok ? await door.sessions.open(personId, readCookie(c.req.raw.headers, door.site)) : noted;
    if (!opened.ok) return answerFailure(opened.failure);
    c.header('Set-Cookie', formatCookie(door.site, opened.value.token, SESSION_TIMES.longestMs / 1000));
    return c.redirect(options.page, 303);
  });
  return `/start/${startToken}`;
}
