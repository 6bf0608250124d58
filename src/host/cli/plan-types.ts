import type { Plan } from '../../core/case/plan-types.ts';
import type { DeviceTable, PatientFacts, RuleSet } from '../../core/device/device-types.ts';
import type { Landmarks } from '../../core/root/root-types.ts';
import type { HandedFile } from './check-landmarks.ts';

/** Sections of a plan in the order of the case line. */
export const PLAN_SECTIONS = ['scan', 'root', 'size', 'landing', 'views', 'route', 'release'] as const;
export type PlanSection = (typeof PLAN_SECTIONS)[number];

export interface PlanRequest {
  readonly path: string;
  readonly seriesUid?: string | undefined;
  readonly landmarks?: HandedFile<Landmarks> | undefined;
  readonly devices?: HandedFile<DeviceTable> | undefined;
  readonly rules?: HandedFile<RuleSet> | undefined;
  readonly patient?: HandedFile<PatientFacts> | undefined;
  /** What is answered; without any section after `scan` the volume is not measured. */
  readonly sections: readonly PlanSection[];
}
/** One answer, before it is written: the plan and its files by path below the output folder. */
export interface PlanAnswer {
  readonly plan: Plan;
  readonly files: Readonly<Record<string, string | Uint8Array>>;
  /** The survey document (parse-survey-document.ts) for a store that lets marks be moved; null when no root was measured. */
  readonly survey: string | null;
}
