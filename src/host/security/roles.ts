import type { Need } from '../../formats/api/api-routes.ts';
import type { Role } from '../storage/store-types.ts';

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
