import type { Device, DeviceSize, PatientFacts } from '../device/device-types.ts';
import { fail, succeed, type Result } from '../result.ts';
import type { RootSurvey } from '../root/root-types.ts';
import type { FactStamp } from '../units/fact.ts';
import { askRelease, type AskFailureCode, type CaseFacts, type ReleaseSettings } from './ask-release.ts';
import { refineRings, type ReleaseQuestion } from './forecast-release.ts';
import type { ReleaseChoice } from './release-types.ts';
import { DEFAULT_CHOICE } from './sample-inputs.ts';

/** Starts of a plan's sweep, mm below the basal plane. */
export const SWEEP_MM: readonly number[] = Array.from({ length: 15 }, (_, i) => i - 2);
export const DEFAULT_RELEASES = 1000;
export const DEFAULT_SEED = 1;

/** What a plan knows beside its root. */
export interface PlanCase {
  readonly spacingMm: readonly [number, number, number];
  readonly findingCodes: readonly string[];
  readonly messageCodes: readonly string[];
  readonly coaxialityDeg: number | null;
  readonly patient: PatientFacts | null;
}

/**
 * The release question of a plan. What nobody entered is unknown, and the model treats it so (tension: both ways).
 * Fails     release-valve-form (survey or person: not three cusps), and as askRelease
 */
export function askFromPlan(
  root: RootSurvey, device: Device, size: DeviceSize, about: PlanCase, settings: Partial<Omit<ReleaseSettings, 'choice'>> & { readonly startMm: number; readonly choice?: Partial<ReleaseChoice> | undefined }, stamp: FactStamp,
): Result<ReleaseQuestion, AskFailureCode | 'release-valve-form'> {
  if (about.messageCodes.includes('valve-maybe-fused') && about.patient?.valveForm !== 'three-cusps') {
    return fail('release-valve-form', 'The cusps may be fused, and the release model knows three free cusps only.', 'Look at the valve on the cuts; enter the valve form three-cusps among the values of the patient where the picture misled.');
  }
  const { patient } = about;
  const anatomy: CaseFacts['anatomy'] = patient?.valveForm === 'bicuspid' ? 'bicuspid' : patient?.valveForm === 'prosthesis' ? 'valve-in-valve' : patient?.isPureRegurgitation ? 'pure regurgitation' : 'three cusps';
  const asked = askRelease(
    root, device.kind, size,
    { sliceMm: Math.max(...about.spacingMm), phaseDifferenceMm: null, hasMetal: about.findingCodes.includes('metal-heavy'), anatomy, coaxialityDeg: about.coaxialityDeg },
    {
      startMm: settings.startMm, sweepMm: settings.sweepMm ?? SWEEP_MM, releases: settings.releases ?? DEFAULT_RELEASES, seed: settings.seed ?? DEFAULT_SEED,
      choice: {
        ...DEFAULT_CHOICE,
        ...(patient?.pacingPerMin === undefined ? {} : { paceBpm: patient.pacingPerMin }),
        ...(patient?.isPredilated === undefined ? {} : { isPredilated: patient.isPredilated }),
        ...(patient?.catheterTension === undefined ? {} : { tension: patient.catheterTension }),
        ...settings.choice,
      },
    },
    stamp,
  );
  return asked.ok ? succeed(refineRings(asked.value)) : asked;
}
