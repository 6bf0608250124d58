import { checkEntryKind, type EntryKind, type EntryProblem, type EntryValue } from '../case/entry-kinds.ts';

/**
 * What a huddle decides, item by item, and what must lie in the room. Entries are stored as `huddle.entered` events and
 * stand in the frozen document under the same ids. Bounds refuse what cannot be; they are no clinical limits. Nothing here
 * names the patient.
 */
export type HuddleGroup = 'team' | 'valve' | 'depth' | 'access' | 'wire' | 'pacing' | 'views' | 'stop' | 'kit';
export const HUDDLE_GROUPS: readonly HuddleGroup[] = ['team', 'valve', 'depth', 'access', 'wire', 'pacing', 'views', 'stop', 'kit'];

interface Common<Id extends string> {
  readonly id: Id;
  readonly group: HuddleGroup;
  /** The plan is not frozen without it, unless somebody overrides that by name. */
  readonly isNeeded: boolean;
}
export type HuddleField<Id extends string = string> = Common<Id> & EntryKind;

type Need = 'needed' | 'free';
const isNeeded = (need: Need): boolean => need === 'needed';
const text = <const Id extends string>(group: HuddleGroup, id: Id, need: Need, most = 80) => ({ id, group, isNeeded: isNeeded(need), kind: 'text', most }) as const;
const choice = <const Id extends string>(group: HuddleGroup, id: Id, need: Need, ...choices: readonly string[]) => ({ id, group, isNeeded: isNeeded(need), kind: 'choice', choices }) as const;
const number = <const Id extends string>(group: HuddleGroup, id: Id, need: Need, unit: string, low: number, high: number, step: number) => ({ id, group, isNeeded: isNeeded(need), kind: 'number', unit, low, high, step }) as const;
const yesNo = <const Id extends string>(group: HuddleGroup, id: Id, need: Need) => ({ id, group, isNeeded: isNeeded(need), kind: 'yes-no' }) as const;

/** Views of the plan that a team may work in (ViewRole). */
const WORKING_VIEWS = ['start', 'three-cusps', 'widest-apart', 'least-parallax'] as const;

/** Boxes on the shelf: the first four are valves, named by their place beside the chosen size in the signed table. */
export const KIT_SLOTS = ['first', 'spare', 'smaller', 'larger', 'sheath', 'balloon', 'snare', 'stent', 'drain', 'coronary'] as const;
export type KitSlot = (typeof KIT_SLOTS)[number];
const makeSlotFields = <const S extends KitSlot>(slot: S) => [
  { id: `kit.${slot}.ready`, group: 'kit', isNeeded: false, kind: 'yes-no' },
  { id: `kit.${slot}.place`, group: 'kit', isNeeded: false, kind: 'text', most: 80 },
  { id: `kit.${slot}.expires`, group: 'kit', isNeeded: false, kind: 'date' },
] as const;

export const HUDDLE_FIELDS = [
  text('team', 'team.firstOperator', 'needed'),
  text('team', 'team.secondOperator', 'free'),
  text('team', 'team.decides', 'needed'),
  text('team', 'team.nurse', 'needed'),
  text('team', 'team.sedation', 'needed'),
  text('team', 'team.physiologist', 'free'),
  text('team', 'team.imaging', 'free'),
  text('team', 'team.echo', 'free'),
  choice('team', 'rescue.surgery', 'needed', 'agreed', 'not-for-surgery', 'not-agreed'),
  text('team', 'team.surgeon', 'free'),
  yesNo('team', 'consent.given', 'needed'),

  /** `pinId` of a pinned alternative; absent: what the plan itself was made for. */
  text('valve', 'choice.pin', 'free', 64),

  number('depth', 'depth.startMm', 'free', 'mm', -10, 25, 0.5),
  number('depth', 'depth.aimMm', 'free', 'mm', -10, 25, 0.5),
  number('depth', 'depth.stopMm', 'free', 'mm', -10, 25, 0.5),

  choice('access', 'access.site', 'needed', 'femoral', 'axillary', 'carotid', 'aortic', 'apical'),
  choice('access', 'access.side', 'needed', 'left', 'right', 'no-side'),
  number('access', 'access.sheathMm', 'free', 'mm', 3, 12, 0.1),
  text('access', 'access.second', 'free'),
  text('access', 'access.closure', 'free'),

  text('wire', 'wire.kind', 'needed'),

  choice('pacing', 'pacing.route', 'needed', 'ventricular-wire', 'temporary-lead', 'own-pacemaker', 'none'),
  number('pacing', 'pacing.ratePerMin', 'free', '/min', 30, 260, 1),
  text('pacing', 'pacing.by', 'free'),

  choice('views', 'views.first', 'needed', ...WORKING_VIEWS),
  choice('views', 'views.second', 'free', ...WORKING_VIEWS),

  text('stop', 'stop.when', 'needed', 300),

  ...makeSlotFields('first'), ...makeSlotFields('spare'), ...makeSlotFields('smaller'), ...makeSlotFields('larger'), ...makeSlotFields('sheath'),
  ...makeSlotFields('balloon'), ...makeSlotFields('snare'), ...makeSlotFields('stent'), ...makeSlotFields('drain'), ...makeSlotFields('coronary'),
] as const satisfies readonly HuddleField[];
export type HuddleFieldId = (typeof HUDDLE_FIELDS)[number]['id'];

const BY_ID: ReadonlyMap<string, HuddleField> = new Map(HUDDLE_FIELDS.map((f): [string, HuddleField] => [f.id, f]));
export const findHuddleField = (id: string): HuddleField | null => BY_ID.get(id) ?? null;

/** Why an entry cannot be taken; null: it can. `null` takes a value back and always can, if the field is known. */
export function checkHuddleEntry(id: string, value: EntryValue): EntryProblem | null {
  const field = findHuddleField(id);
  if (field?.kind === 'date' && typeof value === 'string' && !value.startsWith('20')) return 'not-a-date'; // a box that expired in another century is a slip
  if (field?.kind === 'text' && typeof value === 'string' && value.trim() === '') return 'too-long'; // blanks name nobody; nothing at all is null
  return checkEntryKind(field, value);
}
