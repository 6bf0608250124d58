import type { EnteredItem } from '../case/fold-case.ts';
import type { EnteredLength, PatientFacts } from '../device/device-types.ts';
import { checkEntry } from './referral-fields.ts';

type Referral = Readonly<Record<string, EnteredItem>>;

/**
 * What the plan reads of a referral, as patient.json. A length counts only together with its half-width: a length whose
 * doubt nobody entered is left out, never taken for exact.
 *
 * Units     mm, per minute
 * Fails     never; null when nothing the plan reads was entered
 */
export function makePatientFacts(referral: Referral, by: string): PatientFacts | null {
  const read = (id: string): string | number | boolean | undefined => {
    const value = referral[id]?.value;
    return value !== undefined && checkEntry(id, value) === null ? value : undefined;
  };
  const length = (id: string): EnteredLength | undefined => {
    const [value, halfWidth95] = [read(`${id}Mm`), read(`${id}HalfWidthMm`)];
    return typeof value === 'number' && typeof halfWidth95 === 'number' ? { value, halfWidth95 } : undefined;
  };
  const [right, left] = [length('plan.vesselRight'), length('plan.vesselLeft')];
  const facts = {
    sex: read('identity.sex'), membranousSeptumMm: length('plan.membranousSeptum'), mitralClearanceMm: length('plan.mitralClearance'),
    vesselMinMm: right || left ? { ...(right ? { right } : {}), ...(left ? { left } : {}) } : undefined,
    valveForm: read('plan.valveForm'), isPureRegurgitation: read('plan.isPureRegurgitation'), pacingPerMin: read('plan.pacingPerMin'),
    isPredilated: read('plan.isPredilated'), catheterTension: read('plan.catheterTension'),
  };
  const known = Object.entries(facts).filter(([, v]) => v !== undefined);
  return known.length === 0 ? null : ({ format: 'trinadir.patient/1', by, ...Object.fromEntries(known) } as PatientFacts);
}

/** Lengths that were entered without their half-width: the plan does not use them, and the page says so. */
export function listLonelyLengths(referral: Referral): readonly string[] {
  return ['plan.membranousSeptum', 'plan.mitralClearance', 'plan.vesselRight', 'plan.vesselLeft'].filter((id) => referral[`${id}Mm`] !== undefined && referral[`${id}HalfWidthMm`] === undefined).map((id) => `${id}Mm`);
}
