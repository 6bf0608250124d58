import type { Cusp } from '../root/root-types.ts';
import type { Fact, Reason } from '../units/fact.ts';
import type { SeenLeak } from '../verdict/compare-leak-sites.ts';
import type { LeakMeasure } from '../verdict/leak-measures.ts';
import type { GradeWord } from '../verdict/make-witness.ts';
import type { EchoFieldCode, EchoNumberCode, JET_PLACES, REVERSALS } from './echo-fields.ts';

/** What the case knows beside the echo. Null is not known, never normal. */
export interface EchoContext {
  readonly heightCm: number | null;
  readonly weightKg: number | null;
  /** Area of the aorta at the sinotubular junction in cm2, from the CT (checks EC-08). */
  readonly junctionAreaCm2: Fact | null;
  /** Mean gradient by catheter in mm[Hg]. */
  readonly catheterMeanGradient: Fact | null;
  /** Azimuths of the commissures in the unrolled map, from the CT; null: 60, 180, 300 are taken [A]. */
  readonly commissuresDeg: CommissureAzimuths | null;
  /** 95 % half-widths that came with a trace (trace-envelope.ts), in the unit of the field; they replace the assumed errors. */
  readonly halfWidths?: Readonly<Partial<Record<EchoNumberCode, number>>> | undefined;
}
export interface CommissureAzimuths {
  readonly rightLeft: number;
  readonly leftNon: number;
  readonly nonRight: number;
}
export const NO_CONTEXT: EchoContext = { heightCm: null, weightKg: null, junctionAreaCm2: null, catheterMeanGradient: null, commissuresDeg: null };

export type EchoCheckCode =
  | 'entry-impossible'
  | 'unit-looks-wrong'
  | 'field-unknown'
  | 'peak-gradient-differs'
  | 'mean-above-peak'
  | 'mean-low-for-peak'
  | 'time-integral-unlike-velocity'
  | 'ratios-differ'
  | 'index-above-one'
  | 'area-above-outflow'
  | 'area-differs'
  | 'area-above-aorta'
  | 'stroke-differs'
  | 'reference-above-stroke'
  | 'volume-above-stroke'
  | 'volume-differs'
  | 'fraction-differs'
  | 'orifice-differs'
  | 'orifice-volume-differs'
  | 'extent-differs'
  | 'jet-incomplete'
  | 'jet-cusp-differs'
  | 'half-time-beyond-diastole'
  | 'grade-order'
  | 'leak-denied'
  | 'body-surface-differs'
  | 'catheter-differs'
  | 'clock-order'
  | 'clock-marks-missing'
  | 'image-poor';

/**
 * One disagreement between entries, or an entry that cannot be. `refuse`: what rests on the fields named is no witness; `doubt`: it
 * is kept and doubtful; `tell`: it explains.
 */
export interface EchoCheck extends Reason {
  readonly code: EchoCheckCode;
  readonly weight: 'refuse' | 'doubt' | 'tell';
  readonly fields: readonly EchoFieldCode[];
}

/** A word by a rule, from one to another where the band of the number lies across a limit; `cannot say` with reasons. */
export interface EchoWord<Word extends string> {
  readonly from: Word | 'cannot say';
  readonly to: Word | 'cannot say';
  /** Rules that were read, with source. */
  readonly method: string;
  readonly reasons: readonly Reason[];
}
export type MismatchWord = 'none' | 'moderate' | 'severe';
export type FlowWord = 'low' | 'not low';

export type EchoLeakCode = 'circumference' | 'regurgitant-volume' | 'regurgitant-fraction' | 'regurgitant-orifice' | 'vena-contracta' | 'pressure-half-time' | 'jet-width';

/** A jet on the clock of the short axis, placed on the unrolled map where the landmarks allow. */
export interface EchoJet {
  readonly fromHour: number | null;
  readonly toHour: number | null;
  readonly cusp: Cusp | null;
  readonly arcDeg: readonly [from: number, to: number] | null;
}

export interface EchoAnswer {
  readonly format: 'trinadir.echo/1';
  readonly body: { readonly surface: Fact; readonly massIndex: Fact };
  readonly valve: {
    readonly peakVelocity: Fact;
    readonly peakGradient: Fact;
    readonly meanGradient: Fact;
    readonly velocityRatio: Fact;
    /** Dimensionless index of the time integrals (EC-06). */
    readonly index: Fact;
    readonly area: Fact;
    readonly areaIndexed: Fact;
    readonly energyLoss: Fact;
    readonly energyLossIndexed: Fact;
    readonly recoveredShare: Fact;
    readonly recoveredGradient: Fact;
  };
  readonly flow: { readonly outflowArea: Fact; readonly stroke: Fact; readonly strokeIndexed: Fact; readonly heartRate: Fact; readonly word: EchoWord<FlowWord> };
  readonly leak: Readonly<Record<EchoLeakCode, Fact>> & {
    readonly reversal: (typeof REVERSALS)[number] | null;
    readonly place: (typeof JET_PLACES)[number] | null;
    readonly grade: { readonly from: GradeWord; readonly to: GradeWord } | null;
    readonly jets: readonly EchoJet[];
  };
  readonly mismatch: EchoWord<MismatchWord>;
  readonly ventricle: { readonly ejectionFraction: Fact; readonly size: string | null; readonly function: string | null; readonly hasEffusion: boolean | null };
  /** What goes to the witness: entered ones, and computed ones beside them; refused where a check says so. */
  readonly measures: readonly LeakMeasure[];
  readonly checks: readonly EchoCheck[];
  /** For compareLeakSites; null: nobody looked. An empty list: no jet was seen. */
  readonly seen: readonly SeenLeak[] | null;
}
