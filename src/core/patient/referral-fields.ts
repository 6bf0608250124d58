import { checkEntryKind, type EntryKind, type EntryProblem, type EntryValue } from '../case/entry-kinds.ts';

/**
 * What a referral may hold. Bounds refuse what cannot be (a height in metres, a date in the year 20); they are no
 * clinical limits. Ids of `identity.*` hold what names the patient and never leave the case; those of `plan.*` and the
 * sex are read by the plan (make-patient-facts.ts).
 */
export type ReferralGroup = 'identity' | 'reason' | 'body' | 'heart' | 'risk' | 'frailty' | 'planning';
export const REFERRAL_GROUPS: readonly ReferralGroup[] = ['identity', 'reason', 'body', 'heart', 'risk', 'frailty', 'planning'];

interface Common<Id extends string> {
  readonly id: Id;
  readonly group: ReferralGroup;
}
export type ReferralField<Id extends string = string> = Common<Id> & EntryKind;

const number = <const Id extends string>(group: ReferralGroup, id: Id, unit: string, low: number, high: number, step: number) => ({ id, group, kind: 'number', unit, low, high, step }) as const;
const choice = <const Id extends string>(group: ReferralGroup, id: Id, ...choices: readonly string[]) => ({ id, group, kind: 'choice', choices }) as const;
const yesNo = <const Id extends string>(group: ReferralGroup, id: Id) => ({ id, group, kind: 'yes-no' }) as const;
const text = <const Id extends string>(group: ReferralGroup, id: Id, most: number) => ({ id, group, kind: 'text', most }) as const;

export const REFERRAL_FIELDS = [
  text('identity', 'identity.name', 120),
  { id: 'identity.birthDate', group: 'identity', kind: 'date' },
  choice('identity', 'identity.sex', 'F', 'M'),
  text('identity', 'identity.patientId', 64),

  text('reason', 'reason.question', 400),
  choice('reason', 'reason.disease', 'stenosis', 'regurgitation', 'both'),
  choice('reason', 'reason.nyha', 'I', 'II', 'III', 'IV'),
  yesNo('reason', 'reason.syncope'),
  yesNo('reason', 'reason.angina'),

  number('body', 'body.heightCm', 'cm', 100, 230, 1),
  number('body', 'body.weightKg', 'kg', 25, 250, 1),
  number('body', 'body.creatinineUmolPerL', 'umol/L', 15, 1500, 1),
  number('body', 'body.haemoglobinGPerL', 'g/L', 40, 220, 1),

  number('heart', 'heart.meanGradientMmHg', 'mm[Hg]', 0, 150, 1),
  number('heart', 'heart.peakVelocityMPerS', 'm/s', 0.5, 8, 0.1),
  number('heart', 'heart.valveAreaCm2', 'cm2', 0.1, 6, 0.1),
  number('heart', 'heart.ejectionFractionPercent', '%', 5, 85, 1),
  choice('heart', 'heart.rhythm', 'sinus', 'atrial-fibrillation', 'paced', 'other'),
  choice('heart', 'heart.conduction', 'none', 'right-bundle', 'left-bundle', 'other'),
  number('heart', 'heart.prMs', 'ms', 60, 600, 1),
  number('heart', 'heart.qrsMs', 'ms', 50, 300, 1),
  yesNo('heart', 'heart.hasPacemaker'),

  number('risk', 'risk.stsPercent', '%', 0, 100, 0.1),
  text('risk', 'risk.stsVersion', 40),
  number('risk', 'risk.euroscorePercent', '%', 0, 100, 0.1),
  text('risk', 'risk.euroscoreVersion', 40),
  text('risk', 'risk.other', 400),

  number('frailty', 'frailty.fiveMetresS', 's', 1, 60, 0.1),
  yesNo('frailty', 'frailty.cannotWalk'),
  number('frailty', 'frailty.katzItems', '/6', 0, 6, 1),

  choice('planning', 'plan.valveForm', 'three-cusps', 'bicuspid', 'prosthesis'),
  yesNo('planning', 'plan.isPureRegurgitation'),
  number('planning', 'plan.membranousSeptumMm', 'mm', 0, 20, 0.1),
  number('planning', 'plan.membranousSeptumHalfWidthMm', 'mm', 0.1, 20, 0.1),
  number('planning', 'plan.mitralClearanceMm', 'mm', 0, 40, 0.1),
  number('planning', 'plan.mitralClearanceHalfWidthMm', 'mm', 0.1, 40, 0.1),
  number('planning', 'plan.vesselRightMm', 'mm', 0, 25, 0.1),
  number('planning', 'plan.vesselRightHalfWidthMm', 'mm', 0.1, 25, 0.1),
  number('planning', 'plan.vesselLeftMm', 'mm', 0, 25, 0.1),
  number('planning', 'plan.vesselLeftHalfWidthMm', 'mm', 0.1, 25, 0.1),
  number('planning', 'plan.pacingPerMin', '/min', 30, 260, 1),
  yesNo('planning', 'plan.isPredilated'),
  choice('planning', 'plan.catheterTension', 'neutral', 'pulling', 'pushing', 'unknown'),
] as const satisfies readonly ReferralField[];
export type ReferralFieldId = (typeof REFERRAL_FIELDS)[number]['id'];

const BY_ID: ReadonlyMap<string, ReferralField> = new Map(REFERRAL_FIELDS.map((f) => [f.id, f]));
export const findField = (id: string): ReferralField | null => BY_ID.get(id) ?? null;

/** Why an entry cannot be taken; null: it can. An entry of `null` takes a value back and always can. */
export const checkEntry = (id: string, value: EntryValue): EntryProblem | null => checkEntryKind(findField(id), value);
