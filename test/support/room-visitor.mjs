// A person's program at the real server: logs taps of the room and listens to its news. Plain Node, for the kill test and the bench.
import { request } from 'node:http';

/** First account of a server that has none; `desk` is that of startDesk. */
export async function enterFirst(desk) {
  const visitor = makeVisitor(desk.origin);
  const startToken = decodeURIComponent(desk.url.split(/[#/=]/).at(-1));
  await visitor.ask('/api/first-person', { method: 'POST', body: { startToken, login: 'anna', displayName: 'Anna Reader', password: 'three cusp nadirs make a plane' } });
  return visitor;
}

function makeVisitor(origin) {
  let [cookie, csrf] = ['', ''];
  return {
    origin,
    /** Answer as JSON; throws when the server refuses or is away. */
    async ask(path, { method = 'GET', body } = {}) {
      const answer = await fetch(`${origin}${path}`, { method, headers: { cookie, ...(method === 'GET' ? {} : { origin, 'content-type': 'application/json', 'x-trinadir-csrf': csrf }) }, ...(body === undefined ? {} : { body: JSON.stringify(body) }) });
      const given = answer.headers.getSetCookie()[0];
      if (given) cookie = given.split(';')[0];
      const told = await answer.json();
      if (!answer.ok) throw new Error(`${path} gave ${answer.status} ${told?.error?.code}`);
      if (typeof told?.csrfToken === 'string') csrf = told.csrfToken;
      return told;
    },
    /** Tells of every record as it arrives; gives what ends it. */
    follow(caseId, after, tell) {
      return new Promise((resolve, reject) => {
        const call = request(`${origin}/api/cases/${caseId}/room/feed?after=${after}`, { headers: { cookie } }, (answer) => {
          let text = '';
          answer.setEncoding('utf8').on('data', (piece) => {
            text += piece;
            const blocks = text.split('\n\n');
            text = blocks.pop();
            for (const block of blocks) {
              const data = block.split('\n').find((line) => line.startsWith('data: '));
              if (data) for (const record of JSON.parse(data.slice(6)).records) tell(record);
            }
          });
          answer.on('error', () => {});
          resolve(() => call.destroy());
        });
        call.on('error', reject);
        call.end();
      });
    },
  };
}

/** A tap of a page, numbered. */
export function makeTap(clientId, count, entry, atMs = Date.now()) {
  const at = new Date(atMs).toISOString();
  return { entryId: `${clientId}-${String(count).padStart(6, '0')}`, clientId, place: 'desk', count, monotonicMs: count, clientAt: at, happenedAt: at, offset: { addedMs: 0, withinMs: 2 }, corrects: null, entry };
}
