import type { EchoNumberCode } from '../../core/echo/echo-fields.ts';

/** Where a measurement was made, how the flow ran and by which method, as the modifiers of the item and of what holds it say. */
export type SiteWord = 'valve' | 'outflow' | 'ventricle' | 'other';
export type FlowWord = 'forward' | 'back' | 'not said';
export const SITES: Readonly<Record<string, SiteWord>> = { 'SCT 34202007': 'valve', 'SCT 13418002': 'outflow', 'SCT 87878005': 'ventricle' };
export const FLOWS: Readonly<Record<string, FlowWord>> = { 'SCT 263677008': 'forward', 'SCT 312004007': 'back', 'SCT 397417004': 'back' };

/** Concept names of modifiers. */
export const MODIFIERS = { site: 'SCT 363698007', flow: 'SCT 260674002', method: 'SCT 370129005', mode: 'SCT 399264008', derivation: 'DCM 121401', selection: 'DCM 121404' } as const;
/** Selection Status, CID 224, the surest first. */
export const SELECTIONS: readonly string[] = ['DCM 121410', 'DCM 121412', 'DCM 121411'];
export const MEANS: ReadonlySet<string> = new Set(['SCT 373098007', 'SCT 371912002']);
/** Derivations that are no other number than the value itself: measured, calculated, estimated, of one point. */
export const PLAIN_DERIVATIONS: ReadonlySet<string> = new Set(['SCT 258104002', 'SCT 258090004', 'SCT 414135002', 'SCT 371913007', 'DCM 125316', 'DCM 121428', 'DCM 125315', 'DCM 113857']);

export interface EchoConcept {
  readonly field: EchoNumberCode;
  /** null: any, the concept says it itself. */
  readonly site: SiteWord | null;
  readonly flow: FlowWord | null;
  /** Methods of which one must be stated; null: any. */
  readonly methods: readonly string[] | null;
}
const of = (field: EchoNumberCode, site: SiteWord | null = null, flow: FlowWord | null = null, methods: readonly string[] | null = null): EchoConcept => ({ field, site, flow, methods });
const DOPPLER_FLOW = ['DCM 125219'];

/**
 * Concepts that are read: those put together of a property, a site and a flow (TID 5202, 5203) and those of one code (TID 5300, CID
 * 12300). `flow` forward is taken too where nothing is said; back must be said, but for a half-time, which no forward flow has.
 * Source    PS3.16 TID 5200 to 5300, CID 12211, 12222, 12239, 12300, 12304; PS3.17 annex N [V]
 */
export const ECHO_CONCEPTS: Readonly<Record<string, readonly EchoConcept[]>> = {
  'LN 11726-7': [of('valve-velocity', 'valve', 'forward'), of('leak-velocity', 'valve', 'back'), of('outflow-velocity', 'outflow', 'forward')],
  'LN 20354-7': [of('valve-vti', 'valve', 'forward'), of('leak-vti', 'valve', 'back'), of('outflow-vti', 'outflow', 'forward')],
  'LN 20256-4': [of('valve-mean-gradient', 'valve', 'forward')],
  'LN 20247-3': [of('valve-peak-gradient', 'valve', 'forward')],
  'LN 20280-4': [of('half-time', 'valve', 'back'), of('half-time', 'valve', 'not said')],
  'LN 59102-4': [of('isovelocity-radius', 'valve', 'back')],
  'DCM 125331': [of('isovelocity-radius', 'valve', 'back')],
  'LN 59130-5': [of('isovelocity-alias', 'valve', 'back')],
  'DCM 125334': [of('vena-contracta', 'valve', 'back'), of('vena-contracta', 'valve', 'not said')],
  'SCT 399301000': [of('regurgitant-fraction', 'valve')],
  'SCT 399367004': [of('valve-area', 'valve', 'forward'), of('regurgitant-orifice', 'valve', 'back')],
  'DCM 125326': [of('valve-area', 'valve', 'forward'), of('regurgitant-orifice', 'valve', 'back')],
  'SCT 118565006': [of('regurgitant-volume', 'valve', 'back')],
  'SCT 399027007': [of('outflow-diameter', 'outflow')],
  'SCT 81827009': [of('outflow-diameter', 'outflow')],
  'SCT 90096001': [of('stroke-volume', 'outflow', 'forward'), of('stroke-volume', 'ventricle', null, DOPPLER_FLOW)],
  'LN 18043-0': [of('ejection-fraction')],
  'SCT 70822001': [of('ejection-fraction', 'ventricle')],
  'LN 8867-4': [of('heart-rate')],
  'LN 8277-6': [of('body-surface')],
  'LN 3140-1': [of('body-surface')],

  'LN 79962-7': [of('valve-mean-gradient')],
  'LN 79963-5': [of('valve-peak-gradient')],
  'LN 79964-3': [of('valve-velocity')],
  'LN 79965-0': [of('valve-vti')],
  'LN 79958-5': [of('valve-area')],
  'LN 80028-4': [of('outflow-diameter')],
  'LN 80029-2': [of('outflow-velocity')],
  'LN 80030-0': [of('outflow-vti')],
  'LN 79960-1': [of('regurgitant-orifice')],
  'LN 79948-6': [of('vena-contracta')],
  'LN 79947-8': [of('half-time')],
  'LN 79949-4': [of('leak-velocity')],
  'LN 79952-8': [of('leak-vti')],
  'LN 79950-2': [of('regurgitant-volume')],
  'LN 79951-0': [of('regurgitant-volume')],
  'LN 79942-9': [of('regurgitant-fraction')],
  'LN 79944-5': [of('jet-width')],
  'LN 79945-2': [of('isovelocity-radius')],
  'LN 79946-0': [of('isovelocity-alias')],
  'LN 79991-6': [of('ejection-fraction')],
  'LN 79990-8': [of('ejection-fraction')],
};

/** A rate belongs to the whole study; other sites than the valve may hold it too. */
export function findConcept(key: string, site: SiteWord | null, flow: FlowWord, methods: readonly string[]): { readonly concept: EchoConcept } | { readonly why: 'not-of-the-form' | 'site-unknown' | 'method-unknown' } {
  const known = Object.hasOwn(ECHO_CONCEPTS, key) ? ECHO_CONCEPTS[key]! : [];
  if (known.length === 0) return { why: 'not-of-the-form' };
  const here = known.filter((c) => c.site === null || c.site === site);
  if (here.length === 0) return { why: site === null ? 'site-unknown' : 'not-of-the-form' };
  const flowing = here.filter((c) => c.flow === null || c.flow === flow || (c.flow === 'forward' && flow === 'not said'));
  const fit = flowing.find((c) => c.methods === null || c.methods.some((m) => methods.includes(m)));
  return fit ? { concept: fit } : { why: flowing.length > 0 ? 'method-unknown' : 'not-of-the-form' };
}
