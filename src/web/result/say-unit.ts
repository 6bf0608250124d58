const SIGNS: Readonly<Record<string, string>> = { 'mm[Hg]': 'mmHg', cm2: 'cm²', m2: 'm²', 'cm2/m2': 'cm²/m²', 'mL/m2': 'mL/m²', h: 'o’clock' };
/** A UCUM unit as it stands beside a number. */
export const sayUnit = (unit: string): string => SIGNS[unit] ?? unit;
