import { checkEntryKind, type EntryKind, type EntryProblem, type EntryValue } from '../case/entry-kinds.ts';

/**
 * What a person in the room or on the ward says beside the measured numbers, item by item (`result.entered` events). Bounds
 * refuse what cannot be; they are no clinical limits. Nothing here names the patient.
 */
export type ResultGroup = 'signs' | 'circulation' | 'breathing' | 'rhythm' | 'watch';
export const RESULT_GROUPS: readonly ResultGroup[] = ['signs', 'circulation', 'breathing', 'rhythm', 'watch'];
export type ResultField<Id extends string = string> = { readonly id: Id; readonly group: ResultGroup } & EntryKind;

const choice = <const Id extends string>(group: ResultGroup, id: Id, ...choices: readonly string[]) => ({ id, group, kind: 'choice', choices }) as const;
const number = <const Id extends string>(group: ResultGroup, id: Id, unit: string, low: number, high: number, step: number) => ({ id, group, kind: 'number', unit, low, high, step }) as const;
const yesNo = <const Id extends string>(group: ResultGroup, id: Id) => ({ id, group, kind: 'yes-no' }) as const;
const date = <const Id extends string>(group: ResultGroup, id: Id) => ({ id, group, kind: 'date' }) as const;
const text = <const Id extends string>(group: ResultGroup, id: Id, most: number) => ({ id, group, kind: 'text', most }) as const;

export const RESULT_FIELDS = [
  choice('signs', 'signs.leakPlace', 'beside the frame', 'through the leaflets', 'both'),
  choice('signs', 'signs.frameOpening', 'not fully open', 'fully open'),
  yesNo('signs', 'signs.isFrameMoving'),
  yesNo('signs', 'signs.hasEffusion'),
  yesNo('signs', 'signs.isCoronaryFlowNormal'),
  yesNo('signs', 'signs.isSnareReady'),
  yesNo('signs', 'signs.isClosureReady'),

  yesNo('circulation', 'circulation.isStable'),
  yesNo('circulation', 'circulation.isBleeding'),
  yesNo('circulation', 'circulation.hasVasodilator'),
  number('circulation', 'circulation.pulseBeforeMmHg', 'mm[Hg]', 5, 200, 1),
  number('circulation', 'circulation.outputLPerMin', 'L/min', 0.5, 20, 0.1),

  choice('breathing', 'breathing.by', 'spontaneous', 'ventilated'),

  yesNo('rhythm', 'rhythm.isLowImplant'),
  yesNo('rhythm', 'rhythm.hasHeavyCalcium'),
  yesNo('rhythm', 'rhythm.hasShortSeptum'),

  /** The temporary pacing wire. */
  choice('watch', 'watch.wire', 'in', 'out', 'never placed'),
  choice('watch', 'watch.monitor', 'telemetry', 'ambulatory', 'none'),
  text('watch', 'watch.recorder', 80),
  date('watch', 'watch.dischargedOn'),
  date('watch', 'watch.reviewOn'),
  choice('watch', 'watch.monitorResult', 'no block', 'block seen', 'not readable'),
] as const satisfies readonly ResultField[];
export type ResultFieldId = (typeof RESULT_FIELDS)[number]['id'];

const BY_ID: ReadonlyMap<string, ResultField> = new Map(RESULT_FIELDS.map((f): [string, ResultField] => [f.id, f]));
export const findResultField = (id: string): ResultField | null => BY_ID.get(id) ?? null;

/** Why an entry cannot be taken; null: it can. `null` takes a value back and always can, if the field is known. */
export function checkResultEntry(id: string, value: EntryValue): EntryProblem | null {
  return checkEntryKind(findResultField(id), value);
}
