import type { CaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { succeed, type Result } from '../../core/result.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import type { CaseStore, StoreFailureCode } from '../storage/store-types.ts';
import type { CaseFeed } from './handler-types.ts';
import { streamEvents, type StreamOptions } from './stream-feed.ts';

export interface RoomNews extends Pick<CaseState, 'caseId' | 'label' | 'training' | 'frozen' | 'seq'> {
  readonly records: (RoomRecord & { readonly by: string; readonly seq: number })[];
}
type LoggedEvent = CaseEvent<'room.logged'>;

/** What a page of the room is told: the taps among the events, and which frozen plan acts. Nothing else of the case. */
function makeRoomNews(state: CaseState, events: readonly LoggedEvent[]): RoomNews {
  const { caseId, label, training, frozen } = state;
  return { caseId, label, training, frozen, seq: Math.max(state.seq, events.at(-1)?.seq ?? 0), records: events.map(({ data, by, seq }) => ({ ...data, by, seq })) };
}

/** News since an event; the state is read first, so that its `seq` never stands for taps that were not read. */
export async function readRoomNews(store: CaseStore, caseId: string, after: number): Promise<Result<RoomNews, StoreFailureCode>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const events = await store.listRecords(caseId, after);
  return events.ok ? succeed(makeRoomNews(state.value, events.value)) : events;
}

interface RoomStreamOptions extends Omit<StreamOptions, 'start'> {
  readonly store: CaseStore;
  readonly feed: CaseFeed;
  readonly caseId: string;
  /** The last event that the page has. */
  readonly after: number;
}

/**
 * The room as server-sent events `room`; the id of each is the last event it stands for. Every connection knows what it has
 * sent: where the next news do not follow on (two writers, another server on the same database) it reads the log again, so
 * that a page whose connection breaks at any moment comes back with the number of what it really has.
 */
export function streamRoom({ store, feed, caseId, after, ...rest }: RoomStreamOptions): Response {
  return streamEvents({
    ...rest,
    start(send, end) {
      let sentSeq = after;
      let last: Promise<void> = Promise.resolve();
      const tell = (news: RoomNews): void => {
        sentSeq = Math.max(sentSeq, news.seq);
        send(`id: ${sentSeq}\nevent: room\ndata: ${JSON.stringify(news)}\n\n`);
      };
      const catchUp = async (): Promise<void> => {
        const news = await readRoomNews(store, caseId, sentSeq);
        if (news.ok) tell(news.value);
        else end(); // the page comes back
      };
      const inTurn = (work: () => Promise<void>): void => {
        last = last.then(work).catch(end);
      };
      let waiting = 1;
      inTurn(() => catchUp().finally(() => (waiting -= 1)));
      return feed.follow(caseId, (news) => {
        if (news.kind !== 'case') return;
        const [first] = news.events;
        const isNext = (): boolean => first !== undefined && first.seq === sentSeq + 1;
        const taps = news.events.filter((e): e is LoggedEvent => e.kind === 'room.logged');
        if (waiting === 0 && isNext()) return tell(makeRoomNews(news.state, taps));
        if (news.state.seq <= sentSeq && waiting === 0) return;
        waiting += 1;
        inTurn(async () => {
          if (isNext()) tell(makeRoomNews(news.state, taps));
          else if (news.state.seq > sentSeq) await catchUp();
        });
        last = last.finally(() => (waiting -= 1));
      });
    },
  });
}
