/** A drawn circulation: the truth that readings of pressure are held against (docs/methods/circulation-model.md). */
export interface CirculationShape {
  readonly ratePerMin: number;
  /** SD of the beat length over its mean; independent from beat to beat. */
  readonly rateVariation: number;
  /** Largest elastance of the left ventricle, mmHg/mL. */
  readonly elastanceMax: number;
  /** SD of the same over its mean, beat by beat. */
  readonly elastanceVariation: number;
  /** Exponent of the passive pressure-volume curve of the ventricle, 1/mL: stiff above 0.025. */
  readonly stiffness: number;
  /** Pressure of the pulmonary veins, mmHg. */
  readonly venousMmHg: number;
  readonly hasAtrialKick: boolean;
  /** Effective open area of the aortic valve, cm2. */
  readonly valveAreaCm2: number;
  /** Effective area that leaks in diastole, cm2. */
  readonly leakAreaCm2: number;
  /** Resistance of the body, mmHg s/mL; compliance of root and of the rest, mL/mmHg. */
  readonly resistance: number;
  readonly rootCompliance: number;
  readonly bodyCompliance: number;
  /** Inertance between them, mmHg s2/mL: makes the wave after the notch. */
  readonly inertance: number;
  /** Half of the swing of the pressure in the chest, mmHg, and breaths per minute; + is breathing out. */
  readonly breathMmHg: number;
  readonly breathsPerMin: number;
  /** Every n-th beat comes early (0: none). */
  readonly prematureEvery: number;
  /** From, to, rate: the ventricle is paced fast. */
  readonly pacedFast: { readonly fromS: number; readonly toS: number; readonly ratePerMin: number } | null;
}

/** One drawn beat; pressures in mmHg, volumes in mL, times in s. */
export interface BeatTruth {
  /** Begin of contraction. */
  readonly atS: number;
  readonly lengthS: number;
  readonly isPremature: boolean;
  readonly isPacedFast: boolean;
  readonly systolic: number;
  /** Aortic, lowest before the valve opens. */
  readonly diastolic: number;
  readonly mean: number;
  readonly ventricularSystolic: number;
  readonly ventricularMinimum: number;
  /** At the begin of contraction of this beat. */
  readonly endDiastolic: number;
  readonly meanGradient: number;
  readonly peakGradient: number;
  readonly ejectionS: number;
  /** Mean of Ao - LV from where LV falls below Ao to the next contraction. */
  readonly diastolicPressureTime: number;
  readonly forwardMl: number;
  readonly leakMl: number;
}
/** Drawn pressures at `samplesPerS`; whole seconds of settling are already cut off. */
export interface CirculationTruth {
  readonly samplesPerS: number;
  readonly aorticMmHg: Float64Array;
  readonly ventricularMmHg: Float64Array;
  readonly ecgMv: Float64Array;
  readonly beats: readonly BeatTruth[];
  /** R peaks, s. */
  readonly rAtS: readonly number[];
  /** Leaked over ejected, of all beats. */
  readonly leakFraction: number;
}

/** How a catheter, a transducer and a recorder show a pressure. Neutral values leave it as it is. */
export interface LineShape {
  readonly naturalHz: number;
  readonly dampingRatio: number;
  readonly zeroMmHg: number;
  readonly gain: number;
  readonly driftMmHgPerMin: number;
  /** SD, white. */
  readonly noiseMmHg: number;
  readonly humMmHg: number;
  readonly humHz: number;
  readonly clipHighMmHg: number;
  readonly clipLowMmHg: number;
  /** Step of the converter; 0 for none. */
  readonly stepMmHg: number;
  /** Peak of random blows in ejection. */
  readonly whipMmHg: number;
  /** No signal here (NaN), and one value here. */
  readonly gaps: readonly (readonly [fromS: number, toS: number])[];
  readonly flats: readonly (readonly [fromS: number, toS: number])[];
  /** Fast flush: 300 mmHg at the transducer from here to there. */
  readonly flushes: readonly (readonly [fromS: number, toS: number])[];
}
