import type { LandingWindow } from '../deployment/landing-types.ts';
import type { PatientFacts, RuleSet } from '../device/device-types.ts';
import type { SizeAnswer } from '../device/size-types.ts';
import type { PlanViews } from '../projection/view-types.ts';
import type { ReleaseForecast } from '../release/release-types.ts';
import type { RootSurvey, ScanFacts } from '../root/root-types.ts';
import type { PlanMessage } from '../root/survey-types.ts';

export interface PlanInputs {
  readonly files: number;
  readonly bytes: number;
  /** Over the sorted pixel and geometry content. */
  readonly sha256: string;
  readonly devicesSha256?: string;
  readonly patientSha256?: string;
  readonly landmarksSha256?: string;
  readonly rulesSha256?: string;
}
/** plan.json. A section that was not computed is absent, never faked. */
export interface Plan {
  readonly format: 'trinadir.plan/1';
  readonly madeBy: string;
  readonly madeAt: string;
  /** True when the input or a table is marked as training material; every page then says "training, invented sizes". */
  readonly training: boolean;
  readonly inputs: PlanInputs;
  readonly scan: ScanFacts;
  readonly root?: RootSurvey;
  readonly size?: SizeAnswer;
  readonly landing?: LandingWindow;
  readonly views?: PlanViews;
  readonly release?: ReleaseForecast;
  /** What a person entered beside the CT. */
  readonly patient?: PatientFacts;
  /** The signed rules that acted; absent when none did. */
  readonly rules?: RuleSet;
  readonly messages: readonly PlanMessage[];
}
