import type { CaseFeed, CaseNews } from './handler-types.ts';
import { showJob } from './show-job.ts';

/** A page that does not read for this many bytes is let go; it comes back and reads the case again. */
const MOST_WAITING_BYTES = 4 * 1024 * 1024;
const BEAT_MS = 15_000;

export interface StreamOptions {
  /** Begins to send; gives what stops it. */
  readonly start: (send: (text: string) => void, end: () => void) => () => void;
  /** Asked at each beat: is the session still good? */
  readonly mayStay: () => Promise<boolean>;
  readonly signal: AbortSignal;
  readonly beatMs?: number;
}
interface FeedOptions extends Omit<StreamOptions, 'start'> {
  readonly feed: CaseFeed;
  readonly caseId: string;
  /** What the page is told first, so that nothing is missed between reading and following. */
  readonly first: CaseNews | null;
}

/** One piece of news as a server-sent event. The id is the case's last event, which the browser sends back when it reconnects. */
function formatNews(news: CaseNews): string {
  if (news.kind === 'job') return `event: job\ndata: ${JSON.stringify(showJob(news.job))}\n\n`;
  return `id: ${news.state.seq}\nevent: case\ndata: ${JSON.stringify({ state: news.state, events: news.events })}\n\n`;
}

/** What happens to a case, as server-sent events, until the page goes or its session ends. */
export function streamFeed({ feed, caseId, first, ...rest }: FeedOptions): Response {
  return streamEvents({
    ...rest,
    start(send) {
      const unfollow = feed.follow(caseId, (news) => send(formatNews(news)));
      if (first) send(formatNews(first));
      return unfollow;
    },
  });
}

/** The number that a browser sends when it comes back: the `id` of the last event it had. null: it comes for the first time. */
export function readLastEventId(headers: Headers): number | null {
  const text = /^\d{1,9}$/.exec(headers.get('last-event-id') ?? '')?.[0];
  return text === undefined ? null : Number(text);
}

/** Server-sent events (WHATWG HTML, 9.2) until the page goes or its session ends. */
export function streamEvents(options: StreamOptions): Response {
  let stop: () => void = () => {};
  const stream = new ReadableStream<Uint8Array>(
    {
      start(controller) {
        const encoder = new TextEncoder();
        let isEnded = false;
        const send = (text: string): void => {
          if (isEnded) return;
          if ((controller.desiredSize ?? 0) < 0) return end();
          controller.enqueue(encoder.encode(text));
        };
        let unfollow: () => void = () => {};
        const beat = setInterval(() => {
          options.mayStay().then((may) => (may ? send(': here\n\n') : end()), end);
        }, options.beatMs ?? BEAT_MS);
        stop = () => {
          isEnded = true;
          clearInterval(beat);
          unfollow();
          options.signal.removeEventListener('abort', end);
        };
        function end(): void {
          stop();
          try {
            controller.close();
          } catch {
            // closed already by the page
          }
        }
        options.signal.addEventListener('abort', end);
        send('retry: 2000\n\n');
        unfollow = options.start(send, end);
        if (options.signal.aborted || isEnded) end();
      },
      cancel: () => stop(),
    },
    new ByteLengthQueuingStrategy({ highWaterMark: MOST_WAITING_BYTES }),
  );
  return new Response(stream, { headers: { 'Content-Type': 'text/event-stream', 'X-Accel-Buffering': 'no' } });
}
