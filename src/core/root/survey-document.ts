import type { Reason } from '../units/fact.ts';
import type { PlanCuts } from './cut-types.ts';
import type { WallTable } from './find-junction.ts';
import type { RootFrame } from './root-frame.ts';
import type { ByCusp } from './root-types.ts';
import type { SurveyAnswer } from './survey-types.ts';

/**
 * What stands behind the `root` of a plan, kept beside it: wall, frame, blood and cuts of one survey. With the plan's
 * root it is all that a moved mark needs to be answered without the CT (recut-root.ts); the pictures are drawn from it.
 * Text form: formats/plan/write-survey-document.ts. Contains no identity.
 */
export interface SurveyDocument {
  readonly format: 'trinadir.survey/1';
  readonly madeBy: string;
  readonly frameOfReferenceUid: string | null;
  /** DICOM (0018,5100); views are chosen for it. */
  readonly patientPosition: string | null;
  readonly frame: RootFrame;
  /** The wall that was measured, in `frame`. */
  readonly wall: WallTable;
  /** The wall as the picture shows it, bridged over calcium, in `frame`. */
  readonly seenWall: WallTable;
  readonly isBridged: Uint8Array;
  readonly blood: SurveyAnswer['blood'];
  readonly blurMm: number;
  readonly voxelMm: number;
  readonly nadirSdMm: ByCusp<number>;
  readonly isMarked: boolean;
  readonly doubts: readonly Reason[];
  readonly valve: readonly Reason[];
  readonly cuts: PlanCuts;
}

/** The document of one survey. */
export function makeSurveyDocument(
  answer: SurveyAnswer, beside: Pick<SurveyDocument, 'madeBy' | 'frameOfReferenceUid' | 'patientPosition' | 'cuts'>,
): SurveyDocument {
  const { frame, wall, trace } = answer;
  const { levelHu, perMmHu, noiseHu } = answer.blood;
  return { format: 'trinadir.survey/1', ...beside, frame, wall, blood: { levelHu, perMmHu, noiseHu }, ...trace };
}
