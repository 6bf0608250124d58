import { completePlan, type CompletedPlan } from '../../core/case/complete-plan.ts';
import type { PlanMessage } from '../../core/root/survey-types.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { askFromPlan } from '../../core/release/ask-from-plan.ts';
import { concludeForecast, listBlockers, planEnsemble, refuseForecast, type ReleaseQuestion } from '../../core/release/forecast-release.ts';
import type { ReleaseForecast } from '../../core/release/release-types.ts';
import type { DeviceSize } from '../../core/device/device-types.ts';
import type { Result } from '../../core/result.ts';
import type { FactStamp } from '../../core/units/fact.ts';
import { listWhatIfs } from '../../core/release/list-what-ifs.ts';
import { runReleaseWork } from '../jobs/run-ensemble.ts';
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
  const about = {
    spacingMm: loaded.volume.spacingMm, findingCodes: loaded.findings.map((f) => f.code), messageCodes: surveyMessages.map((m) => m.code),
    coaxialityDeg: views.frameAxis?.offNormalDeg ?? null, patient,
  };
  const ask = (of: DeviceSize | undefined): Result<ReleaseQuestion> | null => (of ? askFromPlan(root, device, of, about, { startMm: landing.startMm ?? chosen.depthMm.start }, stamp) : null);
  const asked = ask(chosen)!;
  if (!asked.ok) {
    const { code, message, nextStep } = asked.failure;
    return { completed, release: null, messages: [...messages, { code, section: 'release', text: message, next: nextStep }] };
  }
  const at = device.sizes.indexOf(chosen);
  const [smaller, larger] = [ask(device.sizes[at - 1]), ask(device.sizes[at + 1])].map((q) => (q?.ok ? q.value : null)) as [ReleaseQuestion | null, ReleaseQuestion | null];
  return { completed, release: await forecast(asked.value, { smaller, larger }), messages };
}

/**
 * The forecast of one question over the worker threads, with its what-ifs when neighbours are given; refused before any
 * release is run where a rule says so.
 */
export async function forecast(question: ReleaseQuestion, neighbours: Parameters<typeof listWhatIfs>[1] | null = null): Promise<ReleaseForecast> {
  const blockers = listBlockers(question);
  if (blockers.length > 0) return refuseForecast(question, blockers);
  const done = await runReleaseWork({ plan: planEnsemble(question), releases: question.releases, base: question, whatIfs: neighbours ? listWhatIfs(question, neighbours) : [] });
  return { ...concludeForecast(question, done.part), ...(neighbours ? { whatIfs: done.whatIfs } : {}) };
}
