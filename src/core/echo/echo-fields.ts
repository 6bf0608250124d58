import type { EntryKind, EntryValue } from '../case/entry-kinds.ts';
import { CUSPS } from '../root/root-types.ts';
import { GRADE_WORDS, type GradeWord } from '../verdict/make-witness.ts';

/**
 * What may be entered of an echo study. Bounds refuse what cannot be, a unit mistaken for another among them; they are no
 * clinical limits. `step` is the usual fineness. Gradients, volumes and areas that the machine computed are entered beside what
 * they were computed from: measure-echo.ts holds them against one another.
 */
export type EchoGroup = 'about' | 'valve' | 'outflow' | 'leak' | 'isovelocity' | 'jets' | 'clock' | 'ventricle';
export const ECHO_GROUPS: readonly EchoGroup[] = ['about', 'valve', 'outflow', 'leak', 'isovelocity', 'jets', 'clock', 'ventricle'];
export type EchoField = EntryKind & { readonly group: EchoGroup };

const number = (group: EchoGroup, unit: string, low: number, high: number, step: number) => ({ group, kind: 'number', unit, low, high, step }) as const;
const choice = <const C extends readonly string[]>(group: EchoGroup, choices: C) => ({ group, kind: 'choice', choices }) as const;
const yesNo = (group: EchoGroup) => ({ group, kind: 'yes-no' }) as const;
const hour = (group: EchoGroup) => number(group, 'h', 0, 12, 0.5);
const percent = (group: EchoGroup, step: number) => number(group, '%', 0, 100, step);

const GRADES = Object.keys(GRADE_WORDS) as readonly GradeWord[] as readonly string[];
export const IMAGE_QUALITIES = ['good', 'fair', 'poor'] as const;
/** Descending aorta, of growing length (checks EC-14). */
export const REVERSALS = ['absent', 'brief', 'intermediate', 'holodiastolic'] as const;
export const JET_PLACES = ['none seen', 'beside the frame', 'through the leaflets', 'both'] as const;
export const VENTRICLE_SIZES = ['small', 'normal', 'dilated'] as const;
export const VENTRICLE_FUNCTIONS = ['hyperdynamic', 'normal', 'mildly reduced', 'moderately reduced', 'severely reduced'] as const;

export const ECHO_FIELDS = {
  'image-quality': choice('about', IMAGE_QUALITIES),
  'heart-rate': number('about', '/min', 20, 250, 1),
  'body-surface': number('about', 'm2', 0.8, 3.2, 0.01),

  'valve-velocity': number('valve', 'm/s', 0.3, 9, 0.1),
  'valve-mean-gradient': number('valve', 'mm[Hg]', 0, 200, 1),
  'valve-peak-gradient': number('valve', 'mm[Hg]', 0, 330, 1),
  'valve-vti': number('valve', 'cm', 3, 300, 1),
  'valve-area': number('valve', 'cm2', 0.1, 7, 0.1),

  'outflow-diameter': number('outflow', 'cm', 1, 4, 0.1),
  'outflow-velocity': number('outflow', 'm/s', 0.2, 6, 0.1),
  'outflow-vti': number('outflow', 'cm', 3, 80, 1),
  'stroke-volume': number('outflow', 'mL', 5, 300, 1),
  /** Through a competent valve, for the regurgitant volume (checks EC-19). */
  'reference-stroke': number('outflow', 'mL', 5, 300, 1),

  'leak-from': choice('leak', GRADES as readonly GradeWord[]),
  'leak-to': choice('leak', GRADES as readonly GradeWord[]),
  'leak-place': choice('leak', JET_PLACES),
  circumference: percent('leak', 1),
  'regurgitant-volume': number('leak', 'mL', 0, 250, 1),
  'regurgitant-fraction': percent('leak', 1),
  'regurgitant-orifice': number('leak', 'cm2', 0, 2, 0.01),
  'vena-contracta': number('leak', 'cm', 0, 2.5, 0.1),
  'half-time': number('leak', 'ms', 30, 3000, 10),
  'jet-width': percent('leak', 1),
  reversal: choice('leak', REVERSALS),

  'isovelocity-radius': number('isovelocity', 'cm', 0.1, 2.5, 0.05),
  'isovelocity-alias': number('isovelocity', 'cm/s', 5, 120, 1),
  'leak-velocity': number('isovelocity', 'm/s', 1, 8, 0.1),
  'leak-vti': number('isovelocity', 'cm', 30, 600, 1),

  'jet-1-from': hour('jets'), 'jet-1-to': hour('jets'), 'jet-1-cusp': choice('jets', CUSPS as readonly ['R', 'L', 'N']),
  'jet-2-from': hour('jets'), 'jet-2-to': hour('jets'), 'jet-2-cusp': choice('jets', CUSPS as readonly ['R', 'L', 'N']),
  'jet-3-from': hour('jets'), 'jet-3-to': hour('jets'), 'jet-3-cusp': choice('jets', CUSPS as readonly ['R', 'L', 'N']),

  /** Where landmarks stand on the clock of the short axis: 12 on top of the picture, hours clockwise. */
  'clock-r': hour('clock'), 'clock-r-l': hour('clock'), 'clock-l-n': hour('clock'), 'clock-n-r': hour('clock'),
  /** The cusp that follows R clockwise: L seen from the ventricle, N seen from the aorta. Needed where one landmark is given. */
  'clock-next': choice('clock', ['L', 'N'] as const),

  'ejection-fraction': number('ventricle', '%', 5, 85, 1),
  'ventricle-size': choice('ventricle', VENTRICLE_SIZES),
  'ventricle-function': choice('ventricle', VENTRICLE_FUNCTIONS),
  effusion: yesNo('ventricle'),
} as const satisfies Readonly<Record<string, EchoField>>;

export type EchoFieldCode = keyof typeof ECHO_FIELDS;
type ValueOf<F> = F extends { readonly kind: 'number' } ? number : F extends { readonly kind: 'yes-no' } ? boolean : F extends { readonly kind: 'choice'; readonly choices: readonly (infer C)[] } ? C : string;
/** Values by field, in the unit of the field; absent or null is not entered, never normal. */
export type EchoEntries = { readonly [C in EchoFieldCode]?: ValueOf<(typeof ECHO_FIELDS)[C]> | null | undefined };
export type EchoNumberCode = { [C in EchoFieldCode]: (typeof ECHO_FIELDS)[C] extends { readonly kind: 'number' } ? C : never }[EchoFieldCode];

export const ECHO_FIELD_CODES = Object.keys(ECHO_FIELDS) as readonly EchoFieldCode[];

export function isEchoField(code: string): code is EchoFieldCode {
  return Object.hasOwn(ECHO_FIELDS, code);
}

/** The field of a code; null for an unknown one, which checkEntryKind refuses. */
export function findEchoField(code: string): EchoField | null {
  return isEchoField(code) ? ECHO_FIELDS[code] : null;
}

/** Units in which a number may have been entered by mistake: unit and how many of them make one of the field's. */
const MISTAKEN: Readonly<Record<string, readonly (readonly [unit: string, perUnit: number])[]>> = {
  'm/s': [['cm/s', 100], ['mm/s', 1000]],
  'cm/s': [['m/s', 0.01]],
  cm: [['mm', 10], ['m', 0.01]],
  cm2: [['mm2', 100]],
  mL: [['L', 0.001]],
  ms: [['s', 0.001]],
  m2: [['cm2', 10_000]],
  '%': [],
  'mm[Hg]': [['kPa', 0.1333]],
};

/**
 * The unit that an impossible number would make sense in; null: none. Told to the reader, never applied.
 * Gradients below their bounds do not occur, so kPa is never told from a number alone.
 */
export function findMistakenUnit(code: EchoNumberCode, value: EntryValue): string | null {
  const field = ECHO_FIELDS[code];
  if (typeof value !== 'number' || (value >= field.low && value <= field.high)) return null;
  return MISTAKEN[field.unit]?.find(([, per]) => value / per >= field.low && value / per <= field.high)?.[0] ?? null;
}
