import type { Sourced } from '../units/sourced.ts';

/**
 * Published formulas about the patient. Each takes numbers in the unit of its name and gives one number; whoever calls
 * them has checked that the inputs are there and within the bounds of referral-fields.ts.
 *
 * Units     in the names; eGFR per 1.73 m2 of body surface, clearance absolute: they are never mixed
 * Source    docs/methods/patient-formulas.md, checks ST-11 to ST-16, AN-14
 */
export type Origin = Omit<Sourced, 'value' | 'unit'>;
export type Sex = 'F' | 'M';

export const EGFR_ORIGIN: Origin = { source: 'CKD-EPI creatinine equation without race: Inker LA et al., N Engl J Med 2021;385:1737-49 (checks ST-11)', edition: '2021', status: 'V' };
export const CLEARANCE_ORIGIN: Origin = { source: 'Cockcroft and Gault (checks ST-13)', edition: '1976', status: 'M' };
export const MOSTELLER_ORIGIN: Origin = { source: 'Mosteller, as listed by two calculator references (checks ST-14)', edition: '1987', status: 'C' };
export const DUBOIS_ORIGIN: Origin = { source: 'Du Bois and Du Bois, as listed by two calculator references (checks ST-14)', edition: '1916', status: 'C' };
export const BMI_ORIGIN: Origin = { source: 'definition, kg/m2 (checks ST-15)', edition: '-', status: 'D' };
export const GAIT_ORIGIN: Origin = { source: '5 m divided by the time; bands in use: Circ Cardiovasc Interv 2017, doi:10.1161/CIRCINTERVENTIONS.117.005746 (checks ST-16)', edition: '2017', status: 'V' };
export const AGE_ORIGIN: Origin = { source: 'full years from the birth date to the day of the procedure', edition: '-', status: 'D' };

/** umol/L per mg/dL of creatinine (checks AN-14). */
const CREATININE_UMOL_PER_MG_DL = 88.42;
export const computeCreatinineMgPerDl = (creatinineUmolPerL: number): number => creatinineUmolPerL / CREATININE_UMOL_PER_MG_DL;

/** Equation  142 min(S/k, 1)^a max(S/k, 1)^-1.2 0.9938^age (1.012 if F); k 0.7 F, 0.9 M; a -0.241 F, -0.302 M. mL/min/1.73 m2 */
export function computeEgfr(creatinineMgPerDl: number, ageYears: number, sex: Sex): number {
  const [kappa, alpha, factor] = sex === 'F' ? [0.7, -0.241, 1.012] : [0.9, -0.302, 1];
  const ratio = creatinineMgPerDl / kappa;
  return 142 * Math.min(ratio, 1) ** alpha * Math.max(ratio, 1) ** -1.2 * 0.9938 ** ageYears * factor;
}

/** Equation  (140 - age) kg / (72 S), 0.85 of it if F. mL/min, of this body and not per 1.73 m2 */
export function computeClearance(creatinineMgPerDl: number, ageYears: number, weightKg: number, sex: Sex): number {
  return (((140 - ageYears) * weightKg) / (72 * creatinineMgPerDl)) * (sex === 'F' ? 0.85 : 1);
}

export const computeBsaMostellerM2 = (heightCm: number, weightKg: number): number => Math.sqrt((heightCm * weightKg) / 3600);
export const computeBsaDuBoisM2 = (heightCm: number, weightKg: number): number => 0.007184 * weightKg ** 0.425 * heightCm ** 0.725;
export const computeBmi = (heightCm: number, weightKg: number): number => weightKg / (heightCm / 100) ** 2;
export const computeGaitMPerS = (fiveMetresS: number): number => 5 / fiveMetresS;

/**
 * Full years between two dates; null for a text that is no date, or when the second lies before the first.
 * Shape     YYYY-MM-DD. Someone born on 29 February is a year older on 1 March of a common year.
 */
export function computeAgeYears(birthDate: string, on: string): number | null {
  const [born, then] = [readDate(birthDate), readDate(on)];
  if (!born || !then) return null;
  const isBefore = then[1] < born[1] || (then[1] === born[1] && then[2] < born[2]);
  const years = then[0] - born[0] - (isBefore ? 1 : 0);
  return years >= 0 ? years : null;
}
function readDate(text: string): readonly [number, number, number] | null {
  const found = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
  if (!found) return null;
  const [year, month, day] = [Number(found[1]), Number(found[2]), Number(found[3])];
  const isLeap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  const most = [31, isLeap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1];
  return most !== undefined && day >= 1 && day <= most ? [year, month, day] : null;
}
