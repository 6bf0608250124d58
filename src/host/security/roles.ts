import type { Need, RouteName } from '../../formats/api/api-routes.ts';
import type { Role } from '../storage/store-types.ts';
import type { SessionScope } from './sessions.ts';

/** What each role may do; each includes those before it, except that `operator` is a planner who stands at the table. */
const PLANNER: readonly Need[] = ['nobody', 'session', 'read-case', 'read-room', 'log-room', 'open-case', 'edit-case'];
const PROGRAMME: readonly Need[] = [...PLANNER, 'sign-tables', 'read-audit'];
export const ALLOWED: Readonly<Record<Role, readonly Need[]>> = {
  viewer: ['nobody', 'session', 'read-case', 'read-room'],
  planner: PLANNER,
  operator: PLANNER,
  programme: PROGRAMME,
  admin: [...PROGRAMME, 'manage-people'],
};
export const ROLES = Object.keys(ALLOWED) as readonly Role[];
export const isAllowed = (role: Role, need: Need): boolean => ALLOWED[role].includes(need);

/** All that a paired wall or remote may ask, of its own room; a new route is not among them until it is written here. */
const WALL: readonly RouteName[] = ['readSession', 'endSession', 'compareClock', 'readRoom', 'followRoom', 'readFrozen'];
const SCOPED: Readonly<Record<SessionScope['kind'], ReadonlySet<RouteName>>> = { wall: new Set(WALL), remote: new Set<RouteName>([...WALL, 'logRoom']) };
/** Whether a paired wall or remote may ask this route about this case; `caseId` undefined: the route names none. */
export const isInScope = (scope: SessionScope, name: RouteName, caseId: string | undefined): boolean => SCOPED[scope.kind].has(name) && (caseId === undefined || caseId === scope.caseId);
