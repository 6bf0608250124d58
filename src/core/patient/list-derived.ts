import type { EnteredItem } from '../case/fold-case.ts';
import {
  AGE_ORIGIN, BMI_ORIGIN, CLEARANCE_ORIGIN, computeAgeYears, computeBmi, computeBsaDuBoisM2, computeBsaMostellerM2, computeClearance, computeCreatinineMgPerDl,
  computeEgfr, computeGaitMPerS, DUBOIS_ORIGIN, EGFR_ORIGIN, GAIT_ORIGIN, MOSTELLER_ORIGIN, type Origin, type Sex,
} from './patient-formulas.ts';
import { checkEntry, findField } from './referral-fields.ts';

export type DerivedKey = 'age' | 'bmi' | 'bsaMosteller' | 'bsaDuBois' | 'egfr' | 'clearance' | 'gait';
/** A number that follows from entries by a published formula. */
export interface Derived {
  readonly key: DerivedKey;
  readonly unit: string;
  /** null while an entry is missing or a formula does not hold there. */
  readonly value: number | null;
  /** What the rounding of the entries leaves open. The formula's own spread about the truth is not in it. */
  readonly low: number | null;
  readonly high: number | null;
  readonly digits: number;
  readonly origin: Origin;
  /** Ids of entries that are missing; `procedureOn` for the day. */
  readonly missing: readonly string[];
}
/** The equations were made from adults. */
const LEAST_ADULT_YEARS = 18;

type Read = (id: string) => number | null;
interface Formula {
  readonly key: DerivedKey;
  readonly unit: string;
  readonly digits: number;
  readonly origin: Origin;
  readonly entries: readonly string[];
  readonly needsAge?: true;
  readonly needsSex?: true;
  compute(values: readonly number[], ageYears: number, sex: Sex): number;
}
const BODY = ['body.heightCm', 'body.weightKg'];
const FORMULAS: readonly Formula[] = [
  { key: 'bmi', unit: 'kg/m²', digits: 1, origin: BMI_ORIGIN, entries: BODY, compute: ([cm, kg]) => computeBmi(cm!, kg!) },
  { key: 'bsaMosteller', unit: 'm²', digits: 2, origin: MOSTELLER_ORIGIN, entries: BODY, compute: ([cm, kg]) => computeBsaMostellerM2(cm!, kg!) },
  { key: 'bsaDuBois', unit: 'm²', digits: 2, origin: DUBOIS_ORIGIN, entries: BODY, compute: ([cm, kg]) => computeBsaDuBoisM2(cm!, kg!) },
  { key: 'egfr', unit: 'mL/min/1.73 m²', digits: 0, origin: EGFR_ORIGIN, entries: ['body.creatinineUmolPerL'], needsAge: true, needsSex: true, compute: ([s], age, sex) => computeEgfr(computeCreatinineMgPerDl(s!), age, sex) },
  { key: 'clearance', unit: 'mL/min', digits: 0, origin: CLEARANCE_ORIGIN, entries: ['body.creatinineUmolPerL', 'body.weightKg'], needsAge: true, needsSex: true, compute: ([s, kg], age, sex) => computeClearance(computeCreatinineMgPerDl(s!), age, kg!, sex) },
  { key: 'gait', unit: 'm/s', digits: 2, origin: GAIT_ORIGIN, entries: ['frailty.fiveMetresS'], compute: ([s]) => computeGaitMPerS(s!) },
];

/**
 * What follows from a referral. Age is that on the day of the procedure; without a day nothing that needs it is computed.
 * Source    docs/methods/patient-formulas.md
 */
export function listDerived(referral: Readonly<Record<string, EnteredItem>>, procedureOn: string | null): readonly Derived[] {
  const valueOf = (id: string): EnteredItem['value'] | null => {
    const value = referral[id]?.value ?? null;
    return value !== null && checkEntry(id, value) === null ? value : null;
  };
  const read: Read = (id) => {
    const value = valueOf(id);
    return typeof value === 'number' ? value : null;
  };
  const [born, sexValue] = [valueOf('identity.birthDate'), valueOf('identity.sex')];
  const ageYears = typeof born === 'string' && procedureOn !== null ? computeAgeYears(born, procedureOn) : null;
  const sex = sexValue === 'F' || sexValue === 'M' ? sexValue : null;
  const missingForAge = [...(typeof born === 'string' ? [] : ['identity.birthDate']), ...(procedureOn === null ? ['procedureOn'] : [])];
  const age: Derived = { key: 'age', unit: 'years', value: ageYears, low: ageYears, high: ageYears, digits: 0, origin: AGE_ORIGIN, missing: missingForAge };
  return [age, ...FORMULAS.map((f) => applyFormula(f, read, ageYears, missingForAge, sex))];
}

function applyFormula(formula: Formula, read: Read, ageYears: number | null, missingForAge: readonly string[], sex: Sex | null): Derived {
  const { key, unit, digits, origin, entries } = formula;
  const missing = [...entries.filter((id) => read(id) === null), ...(formula.needsAge ? missingForAge : []), ...(formula.needsSex && sex === null ? ['identity.sex'] : [])];
  const none: Derived = { key, unit, digits, origin, missing, value: null, low: null, high: null };
  if (missing.length > 0) return none;
  if (formula.needsAge && (ageYears === null || ageYears < LEAST_ADULT_YEARS)) return none;
  const values = entries.map((id) => read(id)!);
  const at = (given: readonly number[]): number => formula.compute(given, ageYears ?? 0, sex ?? 'F');
  const halves = entries.map((id) => {
    const field = findField(id);
    return field?.kind === 'number' ? field.step / 2 : 0;
  });
  // Every formula here is monotone in each entry, so its extremes lie at corners of the box that rounding leaves.
  const corners = Array.from({ length: 2 ** values.length }, (_, c) => at(values.map((v, i) => v + ((c >> i) & 1 ? halves[i]! : -halves[i]!))));
  return { ...none, value: at(values), low: Math.min(...corners), high: Math.max(...corners) };
}
