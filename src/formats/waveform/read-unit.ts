/** What a unit measures, and the factor that brings it to mm[Hg] or mV. */
export interface SignalUnit {
  readonly quantity: 'pressure' | 'voltage' | 'other';
  /** UCUM of the two that are read; otherwise the file's own word. */
  readonly unit: string;
  readonly factor: number;
}

/** Pascal in one mm[Hg] (conventional millimetre of mercury, 13.5951 x 9.80665). */
const PA_PER_MMHG = 133.322387415;
const PA_PER_CMH2O = 98.0665;

const PRESSURES: Readonly<Record<string, number>> = {
  mmhg: 1, 'mm[hg]': 1, 'mm hg': 1, torr: 1,
  pa: 1 / PA_PER_MMHG, hpa: 100 / PA_PER_MMHG, mbar: 100 / PA_PER_MMHG, kpa: 1000 / PA_PER_MMHG,
  cmh2o: PA_PER_CMH2O / PA_PER_MMHG, 'cm[h2o]': PA_PER_CMH2O / PA_PER_MMHG, 'cm h2o': PA_PER_CMH2O / PA_PER_MMHG,
  cmh20: PA_PER_CMH2O / PA_PER_MMHG, // written with a nought: often
};
/** By exact letters: mV and MV, or uV and UV, are told by the small letter; nobody records megavolts. */
const VOLTAGES: Readonly<Record<string, number>> = { v: 1000, mv: 1, uv: 1e-3, 'µv': 1e-3, 'μv': 1e-3, nv: 1e-6 };
const LONGEST_UNIT = 16;

/**
 * A unit word of a file. null: the file says none.
 * Equation  value in mm[Hg] or mV = value x factor
 * Source    conventional mmHg 133.322387415 Pa and cmH2O 98.0665 Pa (NIST SP 811, appendix B.8) [M]; docs/methods/recordings.md
 */
export function readUnit(text: string | null): SignalUnit | null {
  const word = (text ?? '').trim().replace(/^[[({](.*)[\])}]$/, '$1').trim();
  if (word === '' || word === '-' || word === '?') return null;
  const key = word.toLowerCase().replace(/₂/g, '2');
  const pressure = PRESSURES[key];
  if (pressure !== undefined && Object.hasOwn(PRESSURES, key)) return { quantity: 'pressure', unit: 'mm[Hg]', factor: pressure };
  const voltage = VOLTAGES[key];
  if (voltage !== undefined && Object.hasOwn(VOLTAGES, key)) return { quantity: 'voltage', unit: 'mV', factor: voltage };
  return { quantity: 'other', unit: cleanWord(word, LONGEST_UNIT), factor: 1 };
}

/** A word of a file without control characters, cut to a length. */
export function cleanWord(text: string, most: number): string {
  // eslint-disable-next-line no-control-regex
  return text.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029]+/g, ' ').replace(/ +/g, ' ').trim().slice(0, most);
}
