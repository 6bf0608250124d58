import { makeThreadDesk } from '../jobs/thread-desk.ts';
import { makeWhatIfDesk } from '../jobs/what-if-desk.ts';
import type { Door } from './door.ts';
import type { Handlers, Services } from './handler-types.ts';
import { makeAngiogramHandlers } from './handlers/angiogram-handlers.ts';
import { makeCaseHandlers } from './handlers/case-handlers.ts';
import { makeEchoHandlers } from './handlers/echo-handlers.ts';
import { makeFreezeHandlers } from './handlers/freeze-handlers.ts';
import { HOUSE_HANDLERS } from './handlers/house-handlers.ts';
import { IMPORT_HANDLERS } from './handlers/import-handlers.ts';
import { makeLogExportHandlers } from './handlers/log-export-handlers.ts';
import { makePairingHandlers } from './handlers/pairing-handlers.ts';
import { makePeopleHandlers } from './handlers/people-handlers.ts';
import { makePrintHandlers } from './handlers/print-handlers.ts';
import { PLAN_HANDLERS } from './handlers/plan-handlers.ts';
import { makeRecordingHandlers } from './handlers/recording-handlers.ts';
import { makeResultHandlers } from './handlers/result-handlers.ts';
import { makeRhythmHandlers } from './handlers/rhythm-handlers.ts';
import { makeRoomHandlers } from './handlers/room-handlers.ts';
import { makeRunHandlers } from './handlers/run-handlers.ts';
import { makeSessionHandlers } from './handlers/session-handlers.ts';
import { TABLE_HANDLERS } from './handlers/table-handlers.ts';
import { makeWhatIfHandlers } from './handlers/what-if-handlers.ts';
import { makeLiveDesk } from './live-desk.ts';

/** Who answers each route; the compiler finds one that nobody answers. */
export function makeHandlers(door: Door, services: Services): Handlers {
  const whatIfs = makeWhatIfDesk(); // the forecast that is looked at and the one that is frozen come from the same thread
  const thread = makeThreadDesk(); // reads and measures what is handed in
  return {
    ...makeSessionHandlers(door), ...makePeopleHandlers(door), ...makeCaseHandlers(door), ...TABLE_HANDLERS, ...HOUSE_HANDLERS,
    ...IMPORT_HANDLERS, ...PLAN_HANDLERS, ...makeWhatIfHandlers(whatIfs), ...makePrintHandlers(), ...makeFreezeHandlers(whatIfs), ...makeRoomHandlers(door), ...makePairingHandlers(door), ...makeLogExportHandlers(), ...makeRunHandlers(),
    ...makeRecordingHandlers(door, thread, makeLiveDesk(services.dataFolder)), ...makeResultHandlers(door), ...makeAngiogramHandlers(door, thread), ...makeEchoHandlers(thread), ...makeRhythmHandlers(door, thread),
  };
}
