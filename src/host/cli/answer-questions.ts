import { completePlan, type CompletedPlan } from '../../core/case/complete-plan.ts';
import type { PlanMessage } from '../../core/root/survey-types.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { askFromPlan } from '../../core/release/ask-from-plan.ts';
import { concludeForecast, listBlockers, planEnsemble, refuseForecast, type ReleaseQuestion } from '../../core/release/forecast-release.ts';
import type { ReleaseForecast } from '../../core/release/release-types.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { runEnsemble } from '../jobs/run-ensemble.ts';
import type { LoadedVolume } from '../intake/scan-types.ts';
import type { PlanRequest, PlanSection } from './plan-types.ts';

/** Everything that follows from a measured root, as far as it was asked for. */
export interface PlanAnswers {
  readonly completed: CompletedPlan;
  readonly release: ReleaseForecast | null;
  readonly messages: readonly PlanMessage[];
}

/** Size, landing, views and the release forecast of a measured root. The forecast runs over the worker threads. */
export async function answerQuestions(request: PlanRequest, loaded: LoadedVolume, root: RootSurvey, surveyMessages: readonly PlanMessage[], stamp: FactStamp): Promise<PlanAnswers> {
  const patient = request.patient?.content ?? null;
  const completed = completePlan(root, {
    devices: request.devices?.content ?? null, rules: request.rules?.content ?? null, patient, patientPosition: loaded.header.patientPosition,
  });
  const messages = completed.messages.filter((m) => request.sections.includes(m.section as PlanSection));
  if (!request.sections.includes('release')) return { completed, release: null, messages };
  const { landing, size, views } = completed;
  const device = size.table.devices.find((d) => d.id === landing?.device);
  const chosen = device?.sizes.find((s) => s.label === landing?.size);
  if (!landing || !device || !chosen) {
    return { completed, release: null, messages: [...messages, { code: 'release-without-size', section: 'release', text: 'Without a size there is no frame to forecast.', next: 'Settle the size, then plan again.' }] };
  }
  const asked = askFromPlan(root, device, chosen, {
    spacingMm: loaded.volume.spacingMm, findingCodes: loaded.findings.map((f) => f.code), messageCodes: surveyMessages.map((m) => m.code),
    coaxialityDeg: views.frameAxis?.offNormalDeg ?? null, patient,
  }, { startMm: landing.startMm ?? chosen.depthMm.start }, stamp);
  if (!asked.ok) {
    const { code, message, nextStep } = asked.failure;
    return { completed, release: null, messages: [...messages, { code, section: 'release', text: message, next: nextStep }] };
  }
  return { completed, release: await forecast(asked.value), messages };
}

/** The forecast of one question over the worker threads; refused before any release is run where a rule says so. */
export async function forecast(question: ReleaseQuestion): Promise<ReleaseForecast> {
  const blockers = listBlockers(question);
  if (blockers.length > 0) return refuseForecast(question, blockers);
  return concludeForecast(question, await runEnsemble(planEnsemble(question), question.releases));
}
