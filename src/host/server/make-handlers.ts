import { fail } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { ROUTES, type RouteName } from '../../formats/api/api-routes.ts';
import type { Door } from './door.ts';
import type { Handlers, Services } from './handler-types.ts';
import { makeCaseHandlers } from './handlers/case-handlers.ts';
import { HOUSE_HANDLERS } from './handlers/house-handlers.ts';
import { makePeopleHandlers } from './handlers/people-handlers.ts';
import { makeSessionHandlers } from './handlers/session-handlers.ts';
import { PRINT_HANDLERS } from './handlers/print-handlers.ts';
import { TABLE_HANDLERS } from './handlers/table-handlers.ts';
import { makeWhatIfHandlers } from './handlers/what-if-handlers.ts';

/** Who answers each route. */
export function makeHandlers(door: Door, _services: Services): Handlers {
  const mine: Partial<Handlers> = { ...makeSessionHandlers(door), ...makePeopleHandlers(door), ...makeCaseHandlers(door), ...TABLE_HANDLERS, ...HOUSE_HANDLERS, ...makeWhatIfHandlers(), ...PRINT_HANDLERS };
  const missing = (Object.keys(ROUTES) as RouteName[]).filter((name) => !(name in mine));
  const none = async () => fail('route-unknown', SERVER_EN.routeUnknown, SERVER_EN.routeUnknownNext);
  return { ...Object.fromEntries(missing.map((name) => [name, none])), ...mine } as Handlers;
}
