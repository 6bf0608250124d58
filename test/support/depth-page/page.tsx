/** The depth panel alone on a page, over a frozen plan that the test server gives. What it keeps is told to the test. */
import { render } from 'preact';
import { useState } from 'preact/hooks';
import type { CaseState } from '../../../src/core/case/fold-case.ts';
import type { DepthReading } from '../../../src/core/projection/depth-types.ts';
import { foldRoom } from '../../../src/core/room/fold-room.ts';
import type { FrozenDocument } from '../../../src/core/room/frozen-types.ts';
import { readDepthPlan } from '../../../src/core/room/read-depth-plan.ts';
import type { RoomEntry, RoomRecord } from '../../../src/core/room/room-types.ts';
import { DepthDesk } from '../../../src/web/room/depth-desk.tsx';
import { EnteredDepth } from '../../../src/web/room/entered-depth.tsx';
import '../../../src/web/room/depth.css';
import '../../../src/web/style/desk.css';
import 'virtual:section-style.css';

const told: { entries: { entryId: string; corrects: string | null; entry: RoomEntry }[] } = { entries: [] };
Object.assign(globalThis, { told });
const theme = new URLSearchParams(location.search).get('theme');
if (theme) document.documentElement.dataset['theme'] = theme;

function Page({ frozen, runs, first }: { readonly frozen: FrozenDocument; readonly runs: CaseState['runs']; readonly first: readonly RoomRecord[] }) {
  const [records, setRecords] = useState(first);
  const log = (entry: RoomEntry, corrects: string | null): string => {
    const count = records.length + 1;
    const entryId = `entry-${count}`;
    const at = new Date(Date.UTC(2026, 2, 2, 10, 0, count)).toISOString();
    setRecords([...records, { entryId, clientId: 'page-0001', place: 'desk', count, monotonicMs: count * 1000, clientAt: at, happenedAt: at, offset: null, corrects, entry }]);
    told.entries.push({ entryId, corrects, entry });
    return entryId;
  };
  const plan = readDepthPlan(frozen);
  const keep = (reading: DepthReading, corrects: string | null): string => log({ is: 'depth', reading }, corrects);
  const room = foldRoom(records.map((r, i) => ({ ...r, by: 'person-ann', seq: i + 1 })));
  return (
    <section class="depth-panel">
      {plan && <DepthDesk frozen={frozen} plan={plan} room={room} runs={runs} onKeep={keep} />}
      <EnteredDepth view={room.view?.view ?? null} onReading={(reading) => keep(reading, null)} />
    </section>
  );
}

const [frozen, more] = await Promise.all([fetch('/frozen').then((a) => a.json()), fetch('/room').then((a) => a.json())]) as [FrozenDocument, { runs: CaseState['runs']; records: RoomRecord[] }];
render(<Page frozen={frozen} runs={more.runs} first={more.records} />, document.getElementById('page')!);
