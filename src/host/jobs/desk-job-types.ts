import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Failure, Result } from '../../core/result.ts';
import type { Services } from '../server/handler-types.ts';
import type { StoredJob } from '../storage/store-types.ts';
import type { KeptBlock, ProcessAnswer, ProcessAsk } from './process-messages.ts';

/** `ask` of a stored job, by its kind. */
export interface ImportJobAsk {
  readonly files: number;
  readonly bytes: number;
  readonly acceptIdentityBecause: string | null;
}
export interface PlanJobAsk {
  /** Newest event a plan depends on, when the plan was asked for or, later, when it began. */
  readonly planInputSeq: number;
}
export interface BlockJobAsk {
  readonly scanId: string;
  readonly volumeKey: string;
  readonly centreLps: readonly [number, number, number] | null;
}
/** `answer` of a stored job, by its kind; null until there is one. */
export interface ImportJobAnswer {
  readonly scanId: string;
  readonly manifestSha256: string;
}
export interface PlanJobAnswer {
  readonly scanId: string;
  readonly planSha256: string;
  readonly surveySha256: string | null;
  readonly basedOnSeq: number;
  /** Pages, prints and surfaces in the pixel store, by their name below a plan's folder. */
  readonly files: Readonly<Record<string, string>>;
  readonly block: KeptBlock | null;
}
export interface BlockJobAnswer extends KeptBlock {
  readonly scanId: string;
}

/** What one job may use while it runs. */
export interface JobContext {
  readonly services: Omit<Services, 'jobs'>;
  /** Its own; removed when the job is over. */
  readonly workFolder: string;
  run(ask: ProcessAsk): Promise<Result<ProcessAnswer>>;
  tell(step: string, ratio: number): void;
  /** Keeps what the job has come to, before it shows in the case: a later life of the server goes on from there. */
  keep(part: Partial<Pick<StoredJob, 'ask' | 'answer'>>): Promise<Result<null>>;
  isStopped(): boolean;
}
/** How a job ended. `again` starts another one behind it. */
export type JobEnd = { readonly ok: true; readonly answer: unknown; readonly plansNext?: boolean } | { readonly ok: false; readonly failure: Failure<string> };

export function readEntered({ referral }: CaseState): PatientIdentity {
  const text = (field: string): string | null => {
    const value = referral[field]?.value;
    return typeof value === 'string' && value.trim() !== '' ? value : null;
  };
  const sex = text('identity.sex');
  return { name: text('identity.name'), birthDate: text('identity.birthDate'), sex: sex === 'F' || sex === 'M' ? sex : null, patientId: text('identity.patientId') };
}
