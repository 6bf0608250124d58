import type { RootCalciumScore, RootSurvey } from '../../core/root/root-types.ts';
import type { PlanMessage, SurveyAnswer } from '../../core/root/survey-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { PLAN_EN } from '../../core/text/plan-en.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { scoreCalciumSeriesTask } from '../../tasks/score-calcium-series.ts';
import type { SeriesBeside } from '../intake/load-calcium-series.ts';
import type { LoadedVolume } from '../intake/scan-types.ts';
import type { PlanRequest } from './plan-types.ts';

export interface ScoredBeside {
  readonly root: RootSurvey;
  readonly messages: readonly PlanMessage[];
}

/** Series tried when the first ones turn out to show contrast. */
const MAX_TRIES = 3;

/** The survey with the Agatston score of the series beside it, or with a message why there is none. */
export async function scoreBeside(
  request: PlanRequest, loaded: LoadedVolume, survey: SurveyAnswer, beside: SeriesBeside, stamp: FactStamp,
): Promise<ScoredBeside> {
  const { root, frame, wall } = survey;
  if (beside.count === 0) return { root, messages: beside.elsewhere > 0 ? [OTHER_FRAME] : [] };
  let refused: PlanMessage = UNREADABLE;
  for (let n = 0; n < Math.min(beside.count, MAX_TRIES); n++) {
    const found = await beside.load(n);
    if (!found) continue;
    const scored = await scoreCalciumSeriesTask.run({
      contrast: loaded.volume, frame, wall, placeDoubts: root.basalRing.areaMm2.reasons.filter(({ code }) => PLACE_DOUBTS.has(code)),
      junctionMm: root.sinotubularJunction.heightMm.value, series: found.series, ...chooseSex(request, loaded, found.patientSex), stamp,
    }, () => {});
    if (scored.ok) return { root: { ...root, calciumScore: scored.value }, messages: [describePlace(scored.value)] };
    const { code, message, nextStep } = scored.failure;
    refused = { code, section: 'calcium', text: formatText(PLAN_EN, 'scoreRefused', { why: message }), next: nextStep };
    if (code !== 'agatston-contrast') break;
  }
  return { root, messages: [refused] };
}

const OTHER_FRAME: PlanMessage = { code: 'calcium-series-other-frame', section: 'calcium', text: PLAN_EN.scoreOtherFrame, next: PLAN_EN.scoreOtherFrameNext };
const UNREADABLE: PlanMessage = { code: 'calcium-series-unreadable', section: 'calcium', text: PLAN_EN.scoreUnreadable, next: PLAN_EN.scoreUnreadableNext };

function describePlace({ zone }: RootCalciumScore): PlanMessage {
  return {
    code: 'calcium-score-by-frame', section: 'calcium', next: PLAN_EN.scorePlaceNext,
    text: formatText(PLAN_EN, 'scorePlace', { margin: zone.marginMm, low: -zone.lowMm, high: zone.highMm.toFixed(0) }),
  };
}

/** Doubts of the measured series that reach the place of the valve, and with it the score. */
const PLACE_DOUBTS: ReadonlySet<string> = new Set(['crown-uneven', 'nadir-beside-calcium', 'frames-of-reference-mixed', 'gantry-tilted']);

/** Sex of the patient file; else of the headers. Two that differ settle nothing. */
function chooseSex({ patient }: PlanRequest, loaded: LoadedVolume, ofSeries: 'F' | 'M' | 'O' | null): { sex: 'F' | 'M' | 'O' | null; isSexConflicting: boolean } {
  const named = [patient?.content.sex, loaded.header.patientSex, ofSeries].filter((sex) => sex === 'F' || sex === 'M');
  return { sex: named[0] ?? null, isSexConflicting: new Set(named).size > 1 };
}
