import type { Plan } from '../../core/case/plan-types.ts';
import type { Landmarks } from '../../core/root/root-types.ts';
import type { HandedFile } from './check-landmarks.ts';

export interface PlanRequest {
  readonly path: string;
  readonly seriesUid?: string | undefined;
  readonly landmarks?: HandedFile<Landmarks> | undefined;
  readonly devices?: HandedFile<{ readonly training: boolean }> | undefined;
  readonly patient?: HandedFile<{ readonly sex?: 'F' | 'M' | undefined }> | undefined;
  /** False: the scan alone is answered. */
  readonly wantsRoot: boolean;
}
/** One answer, before it is written: the plan and its files by path below the output folder. */
export interface PlanAnswer {
  readonly plan: Plan;
  readonly files: Readonly<Record<string, string | Uint8Array>>;
}
