import type { CaseState } from '../../core/case/fold-case.ts';
import type { MarkName, NewCaseEvent } from '../../core/case/case-events.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { Xyz } from '../../core/root/root-types.ts';
import type { ApiResult } from '../api/call-api.ts';

/** What the Root page gives the viewer in its place. */
export interface RootViewerProps {
  readonly caseId: string;
  readonly state: CaseState;
  /** The plan on the page: the stored one, or what the page answered itself after a mark was moved. */
  readonly plan: Plan;
  /** SHA-256 of the stored plan behind it; surfaces, CT block and cuts belong to that one. */
  readonly planSha256: string;
  /** True while the server plans again: what needs the CT is then older than the marks. */
  readonly isRecomputing: boolean;
  readonly mayEdit: boolean;
  /** Marks while they are dragged: the page answers from them at once; nothing is stored. Null ends the preview. */
  readonly onPreview: (moved: MovedMarks | null) => void;
  /** Stores events of the person (a dropped mark, a ring, a reading) and starts a plan where they change one. */
  readonly onEvents: (events: readonly NewCaseEvent[]) => Promise<ApiResult<null>>;
}
export interface MovedMarks {
  readonly marks: Readonly<Partial<Record<MarkName, Xyz>>>;
  /** A ring drawn by hand on the basal plane; absent: unchanged. */
  readonly contourLps?: readonly Xyz[] | null;
}
