/**
 * A published number with its origin, edition included.
 * Status: V read in the source, C two secondary sources agree, D derived here, M from memory or common practice: an M is
 * shown as "unverified" wherever it acts.
 */
export interface Sourced {
  readonly value: number;
  readonly unit: string;
  readonly source: string;
  readonly edition: string;
  readonly status: 'V' | 'C' | 'D' | 'M';
}
