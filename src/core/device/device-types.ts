/** devices.json of the contract: the hospital's own, signed table. Lengths in mm. */
export interface DeviceTable {
  readonly format: 'trinadir.devices/1';
  readonly hospital: string;
  readonly signedBy: string;
  /** ISO 8601. */
  readonly signedAt: string;
  readonly training: boolean;
  /** SHA-256 over the canonical content without the three signing fields; set by `trinadir sign` (decision 0010). */
  readonly signedSha256?: string | undefined;
  readonly devices: readonly Device[];
}
export type Range = readonly [low: number, high: number];
export interface Device {
  readonly id: string;
  readonly kind: 'self-expanding' | 'balloon-expandable';
  /** Its frame may be waited for before its leak is judged; absent: the table does not say. */
  readonly waitAllowed?: boolean | undefined;
  readonly sizes: readonly DeviceSize[];
}
export interface DeviceSize {
  readonly label: string;
  readonly basalPerimeterMm: Range;
  readonly basalDiameterMm: Range;
  readonly sinusWidthMinMm: number;
  readonly sinusHeightMinMm: number;
  readonly ascendingMaxMm: number;
  readonly outflowTractMm: Range;
  readonly frame: DeviceFrame;
  /** Implant depths: mm from the basal plane to the inflow edge of the frame, + toward the ventricle. */
  readonly depthMm: { readonly start: number; readonly aim: Range; readonly stop: number };
  readonly recaptureFraction: number;
  readonly sheathOuterMm: number;
  readonly vesselMinMm: number;
  readonly balloonMaxMm: number;
}
export interface DeviceFrame {
  readonly heightMm: number;
  readonly inflowMm: number;
  readonly waistMm: number;
  /** Of the narrowest place above the inflow edge. */
  readonly waistHeightMm: number;
  readonly outflowMm: number;
  readonly radialForceNPerMm: Range;
  readonly cells: number;
}

/** One signed threshold of the hospital (rules.json of the contract). */
export interface Rule {
  readonly code: string;
  readonly value: number;
  readonly unit: string;
  /** True: the limit itself does not satisfy the rule. */
  readonly strict: boolean;
  readonly definition: string;
  readonly edition: string;
  readonly source: string;
  readonly status: 'V' | 'C' | 'D' | 'M';
}
export interface RuleSet {
  readonly format: 'trinadir.rules/1';
  readonly hospital: string;
  readonly signedBy: string;
  readonly signedAt: string;
  readonly training: boolean;
  readonly signedSha256?: string | undefined;
  readonly rules: readonly Rule[];
}

/** What a person enters about the patient beside the CT (patient.json). Absent is unknown, never normal. */
export interface PatientFacts {
  readonly format: 'trinadir.patient/1';
  readonly by: string;
  readonly sex?: 'F' | 'M' | undefined;
  /** Each with its 95 % half-width. */
  readonly membranousSeptumMm?: EnteredLength | undefined;
  /** From the basal plane down to the hinge of the anterior mitral leaflet at the curtain. */
  readonly mitralClearanceMm?: EnteredLength | undefined;
  readonly vesselMinMm?: { readonly right?: EnteredLength | undefined; readonly left?: EnteredLength | undefined } | undefined;
  readonly valveForm?: 'three-cusps' | 'bicuspid' | 'prosthesis' | undefined;
  readonly isPureRegurgitation?: boolean | undefined;
  readonly pacingPerMin?: number | undefined;
  readonly isPredilated?: boolean | undefined;
  readonly catheterTension?: 'neutral' | 'pulling' | 'pushing' | 'unknown' | undefined;
}
export interface EnteredLength {
  readonly value: number;
  readonly halfWidth95: number;
}
