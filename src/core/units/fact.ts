/**
 * Fact: one measured, computed or entered quantity with its 95 % interval and its source (contract, "Words used").
 * Nothing numeric about a patient is shown or stored without being a Fact.
 */
export type FactStatus = 'settled' | 'doubtful' | 'refused';
/** UCUM codes in use. */
export type Ucum = 'mm' | 'mm2' | 'mm3' | 'deg' | '1' | '[hnsf\'U]' | '%' | 'ms' | '/min' | '{Agatston\'U}' | 'N' | 'mm[Hg]' | 's' | '/s' | 'Hz' | 'mm[Hg]/s' | 'cm2'
  | 'cm' | 'm/s' | 'mL' | 'mL/m2' | 'cm2/m2' | 'm2' | 'kg/m2';
export interface Reason {
  readonly code: string;
  readonly text: string;
  readonly next: string;
}
export interface FactSource {
  readonly kind: 'computed' | 'entered' | 'edited' | 'imported';
  readonly method: string;
  readonly by: string;
  readonly at: string;
  readonly from: readonly string[];
}
export interface Fact {
  readonly value: number | null;
  readonly unit: Ucum;
  readonly low: number | null;
  readonly high: number | null;
  readonly status: FactStatus;
  readonly source: FactSource;
  readonly reasons: readonly Reason[];
}
/** Who computed and when; handed in, since core has no clock. `at` is ISO 8601 UTC. */
export interface FactStamp {
  readonly by: string;
  readonly at: string;
}

/** A settled or (with reasons) doubtful fact; refuses instead when value or interval is not finite or not ordered. */
export function makeFact(
  value: number,
  low: number,
  high: number,
  unit: Ucum,
  method: string,
  from: readonly string[],
  stamp: FactStamp,
  reasons: readonly Reason[] = [],
  kind: FactSource['kind'] = 'computed',
): Fact {
  const source = { kind, method, by: stamp.by, at: stamp.at, from };
  if (!(Number.isFinite(value) && low <= value && value <= high && Number.isFinite(high - low))) {
    const broken: Reason = {
      code: 'not-measurable',
      text: 'No finite value with an ordered interval came out of the measurement.',
      next: 'Check the marks on the pictures and measure again with marks by hand.',
    };
    return { value: null, unit, low: null, high: null, status: 'refused', source, reasons: [...reasons, broken] };
  }
  return { value, unit, low, high, status: reasons.length > 0 ? 'doubtful' : 'settled', source, reasons };
}

/** A question not answered: value null, at least one reason. */
export function refuseFact(unit: Ucum, method: string, stamp: FactStamp, reason: Reason): Fact {
  return {
    value: null, unit, low: null, high: null, status: 'refused',
    source: { kind: 'computed', method, by: stamp.by, at: stamp.at, from: [] }, reasons: [reason],
  };
}
