import type { IdentityCheck } from './identity-types.ts';

/** Who a picture or a referral says it is of; null: it does not say. Held in memory only, on its way to a comparison. */
export interface PatientIdentity {
  /** As entered, or as DICOM writes it: family^given^middle^prefix^suffix. */
  readonly name: string | null;
  /** ISO 8601 date. */
  readonly birthDate: string | null;
  readonly sex: 'F' | 'M' | 'O' | null;
  readonly patientId: string | null;
}
type FieldResult = IdentityCheck['fields'][number]['result'];

/**
 * Whether the CT can be of the entered patient. Any field that both sides give and that differs: `differs`. `same` needs
 * two of name, birth date and number to agree, since one alone is shared by many people; anything else is `not
 * comparable`, which a person settles.
 * Fails   never
 */
export function compareIdentity(entered: PatientIdentity, found: PatientIdentity): Omit<IdentityCheck, 'acceptedBecause'> {
  const results: Record<IdentityCheck['fields'][number]['field'], FieldResult> = {
    name: compare(entered.name, found.name, isSameName),
    birthDate: compare(entered.birthDate, found.birthDate, (a, b) => a === b),
    // "Other" is also what is written where nobody asked.
    sex: compare(tellSex(entered.sex), tellSex(found.sex), (a, b) => a === b),
    patientId: compare(entered.patientId, found.patientId, (a, b) => foldNumber(a) === foldNumber(b)),
  };
  const fields = (['name', 'birthDate', 'sex', 'patientId'] as const).map((field) => ({ field, result: results[field] }));
  const telling = [results.name, results.birthDate, results.patientId].filter((result) => result === 'same').length;
  const verdict = fields.some(({ result }) => result === 'differs') ? 'differs' : telling >= 2 ? 'same' : 'not comparable';
  return { verdict, fields };
}

function compare(a: string | null, b: string | null, isSame: (a: string, b: string) => boolean): FieldResult {
  const isGiven = (text: string | null): text is string => text !== null && text.trim() !== '';
  if (!isGiven(a) || !isGiven(b)) return 'missing';
  return isSame(a, b) ? 'same' : 'differs';
}

const tellSex = (sex: PatientIdentity['sex']): string | null => (sex === 'O' ? null : sex);
/** Case, blanks and leading zeros are written differently by different systems. */
const foldNumber = (text: string): string => text.toUpperCase().replace(/[\s-]/g, '').replace(/^0+(?=.)/, '');

/** Component groups of a DICOM name (PS3.5 6.2.1): the alphabetic one is compared where there is one. */
const PREFIX = 3;

/**
 * Names are the same when every word of the shorter one stands in the longer one, and at least two words agree; an
 * initial agrees with a word that begins with it. The order of the words does not count: systems disagree on it.
 */
function isSameName(a: string, b: string): boolean {
  return FOLDS.some((fold) => {
    const [shorter, longer] = [listWords(a, fold), listWords(b, fold)].sort((x, y) => x.length - y.length) as [string[], string[]];
    if (shorter.length === 0) return false;
    const rest = [...longer];
    const isMatched = [...shorter].sort((x, y) => y.length - x.length).every((word) => {
      const at = rest.findIndex((other) => other === word);
      const found = at >= 0 ? at : rest.findIndex((other) => (word.length === 1 || other.length === 1) && other[0] === word[0]);
      if (found >= 0) rest.splice(found, 1);
      return found >= 0;
    });
    return isMatched && (shorter.length >= 2 || longer.length === 1);
  });
}

/** ü is written u on one system and ue on another. */
const FOLDS: readonly ((text: string) => string)[] = [
  (text) => text,
  (text) => text.replaceAll('ä', 'ae').replaceAll('ö', 'oe').replaceAll('ü', 'ue').replaceAll('å', 'aa').replaceAll('ø', 'oe').replaceAll('æ', 'ae'),
];

function listWords(name: string, fold: (text: string) => string): string[] {
  const alphabetic = name.split('=').find((group) => group.replaceAll('^', '').trim() !== '') ?? '';
  const isDicom = alphabetic.includes('^');
  const kept = isDicom ? alphabetic.split('^').slice(0, PREFIX).join(' ') : alphabetic; // title and suffix are not compared
  const plain = fold(kept.normalize('NFC').toLowerCase()).normalize('NFD').replace(/\p{M}/gu, '').replaceAll('ß', 'ss').replaceAll('ø', 'o').replaceAll('æ', 'ae').replaceAll('ł', 'l');
  return plain.split(/[^\p{L}\p{N}]+/u).filter((word) => word !== '');
}
