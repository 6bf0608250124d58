import type { ChannelKind } from '../../core/haemodynamics/recording-types.ts';
import type { SignalUnit } from './read-unit.ts';

export interface FoundKind {
  readonly kind: ChannelKind;
  /** The word names an arterial line and not the aorta: a wave measured further out looks different. */
  readonly isArterialLine: boolean;
}

/** Whole words (letters and digits only, capitals made small) that name a place. */
const PRESSURE_WORDS: readonly (readonly [RegExp, ChannelKind | 'arterial'])[] = [
  // What would be mistaken for one of the others comes first.
  [/\b(rv|rvp|ra|rap|cvp|la|lap|pcw|pcwp|paw|wedge|icp|venous|atri(um|al)|right ventric\w*|capillary)\b/, 'other'],
  [/\b(pa|pap|mpa|rpa|lpa|pulmonary|pulmonalis)\b/, 'pulmonary'],
  [/\b(lv|lvp|lvot|left ventric\w*|ventric\w*|linker ventrikel|ventrikel)\b/, 'ventricular'],
  [/\b(ao|aop|aao|aorta|aortic|aorten|aortendruck|root)\b/, 'aortic'],
  [/\b(abp|art|ibp|iabp|arterial|artery|femoral|fem|radial|rad|brachial)\b/, 'arterial'],
];
const ECG_WORD = /\b(ecg|ekg|lead)\b/;
/** A lead alone: I, II, III, aVR, V1 to V9, V, modified and chest leads. */
const LEAD = /^(i|ii|iii|avr|avl|avf|v|v[1-9]|v[3-9]r|ml ?(i|ii|iii|v)\b|mli|mlii|mliii|mcl\d?|cm\d|cc\d|cs\d|d[1-4]|x|y|z|as|es|ai)$/;

/**
 * What a channel shows, from its name, what the file says about its source, and the quantity of its unit.
 * A name without a fitting unit is no proof: respiration in mV is no ECG, and a pressure in mV is a transducer
 * that was never scaled. A missing unit (null) fits all.
 */
export function findChannelKind(label: string, about: string, unit: SignalUnit | null): FoundKind {
  const quantity = unit?.quantity ?? null;
  for (const text of [label, about]) {
    const words = makeWords(text);
    if (words === '') continue;
    if (quantity !== 'pressure' && quantity !== 'other' && isEcg(words)) return { kind: 'ecg', isArterialLine: false };
    if (quantity === 'voltage' || quantity === 'other') continue;
    const hit = PRESSURE_WORDS.find(([form]) => form.test(words));
    if (hit) return { kind: hit[1] === 'arterial' ? 'aortic' : hit[1], isArterialLine: hit[1] === 'arterial' };
  }
  return { kind: 'other', isArterialLine: false };
}

/** The name says a pressure whatever its unit says: used to name a channel whose unit does not fit. */
export function isNamedPressure(label: string): boolean {
  return PRESSURE_WORDS.some(([form, kind]) => kind !== 'other' && form.test(makeWords(label)));
}

function isEcg(words: string): boolean {
  const rest = words.replace(/\b(ecg|ekg|lead|einthoven|filtered|raw)\b/g, ' ').replace(/ +/g, ' ').trim();
  return LEAD.test(rest) || ECG_WORD.test(words);
}

/** Small letters; everything that is no letter or digit parts words, and so does a change from small to capital (AoPress). */
function makeWords(text: string): string {
  return text
    .replace(/([a-z])([A-Z][a-z])/g, '$1 $2')
    .toLowerCase()
    .replace(/[^a-z0-9äöüß]+/g, ' ')
    .replace(/\b(p|pressure|press|druck|signal|channel|ch|waveform|mean)\b/g, ' ')
    .replace(/ +/g, ' ')
    .trim();
}
