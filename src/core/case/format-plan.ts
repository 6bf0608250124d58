import type { Plan } from './plan-types.ts';

/** Order of the fields in plan.json (contract); fields that are not listed follow in the order they were made. */
const ORDER: Readonly<Record<string, readonly string[]>> = {
  '': ['format', 'madeBy', 'madeAt', 'training', 'inputs', 'scan', 'root', 'size', 'landing', 'views', 'route', 'release', 'rules', 'patient', 'messages'],
  inputs: ['files', 'bytes', 'sha256', 'devicesSha256', 'rulesSha256', 'patientSha256', 'landmarksSha256'],
  root: [
    'basalPlane', 'angulationDeg', 'basalRing', 'levels', 'outflowTract', 'sinuses', 'sinotubularJunction', 'ascendingAorta',
    'coronaries', 'leaflets', 'calcium', 'calciumScore', 'septum', 'membranousSeptum', 'map',
  ],
};

/** Digits after the point: a tenth of a micrometre for mm; directions and spacing are multiplied by long ways. */
const DIGITS = 4;
const FINE_DIGITS = 6;
const FINE_KEYS: ReadonlySet<string> = new Set(['normalLps', 'spacingMm']);

/**
 * plan.json as text: fields in the order of the contract, numbers rounded, one list of numbers per line.
 *
 * Shape     JSON text with a newline at the end; parsing it gives the plan back, rounded
 * Units     4 digits after the point, 6 for directions and spacing; -0 is written 0
 * Fails     never; a number that is not finite is a defect of the maker and becomes null
 */
export function formatPlan(plan: Plan): string {
  return `${formatValue(plan, '', '', DIGITS)}\n`;
}

/** Any answer of ours in the same form as a plan: rounded, with -0 as 0 and null for what is not finite. */
export function formatValueText(value: object): string {
  return formatValue(value, '', '', DIGITS);
}

export function roundTo(value: number, digits: number): number {
  const scale = 10 ** digits;
  return Math.round(value * scale) / scale + 0; // + 0 turns -0 into 0
}

function formatValue(value: unknown, key: string, indent: string, digits: number): string {
  if (typeof value === 'number') return Number.isFinite(value) ? String(roundTo(value, digits)) : 'null';
  if (value === null || typeof value !== 'object') return JSON.stringify(value);
  const deeper = `${indent} `;
  if (Array.isArray(value)) {
    const isFlat = value.every((each) => each === null || typeof each !== 'object');
    const items = value.map((each) => formatValue(each, key, deeper, digits));
    if (isFlat) return `[${items.join(', ')}]`;
    return `[\n${items.map((item) => `${deeper}${item}`).join(',\n')}\n${indent}]`;
  }
  const lines = sortFields(value as Readonly<Record<string, unknown>>, ORDER[key]).map(([name, each]) => {
    const within = FINE_KEYS.has(name) ? FINE_DIGITS : digits;
    return `${deeper}${JSON.stringify(name)}: ${formatValue(each, name, deeper, within)}`;
  });
  return lines.length === 0 ? '{}' : `{\n${lines.join(',\n')}\n${indent}}`;
}

function sortFields(record: Readonly<Record<string, unknown>>, order: readonly string[] | undefined): [string, unknown][] {
  const fields = Object.entries(record).filter(([, value]) => value !== undefined);
  if (!order) return fields;
  const rank = (name: string): number => (order.includes(name) ? order.indexOf(name) : order.length);
  return fields.map((field, at) => ({ field, at })).sort((a, b) => rank(a.field[0]) - rank(b.field[0]) || a.at - b.at).map(({ field }) => field);
}
