import type { Device, DeviceSize, PatientFacts, RuleSet } from '../device/device-types.ts';
import type { RootSurvey } from '../root/root-types.ts';
import { LANDING_EN } from '../text/landing-en.ts';
import type { Reason } from '../units/fact.ts';
import { limitCoronary, limitDevice, limitJunction, limitMitral, limitOutflowCalcium, limitSeptalBulge, limitSeptum } from './landing-limits.ts';
import type { LandingLimit, LandingWindow } from './landing-types.ts';

/**
 * Where the inflow edge may come to stand, and which facts say so.
 *
 * Method    docs/methods/landing.md (job.md, D-rules "Depth window"): lower = largest of all minima, upper = smallest of
 *           all maxima, each at the adverse end of its 95 % interval. Lower > upper is an EMPTY window: no aim is given,
 *           the conflicting pair and the gap are named. A missing fact or rule makes the window INCOMPLETE: numbers are
 *           given from what is known and marked so, never passed over.
 * Units     mm below the basal plane to the inflow edge, + toward the ventricle
 */
export function findLanding(root: RootSurvey, device: Device, size: DeviceSize, patient: PatientFacts | null, rules: RuleSet | null): LandingWindow {
  const limits: readonly LandingLimit[] = [
    limitDevice(size), limitSeptum(root, patient, rules), limitCoronary('left', root, size, rules), limitCoronary('right', root, size, rules),
    limitOutflowCalcium(root, rules), limitSeptalBulge(root, rules), limitMitral(patient, rules), limitJunction(root, size, device.kind === 'self-expanding', rules),
  ];
  const unknown = limits.filter((l) => !l.isKnown);
  const reasons: Reason[] = unknown.map((l) => ({ code: `landing-${l.code}-unknown`, text: l.because, next: l.next! }));
  const base = { device: device.id, size: size.label, limits };
  const none = { ...base, state: 'empty', empty: true, startMm: null, aimLowMm: null, aimHighMm: null, stopMm: null } as const;
  const impossible = limits.find((l) => l.excludesAll);
  if (impossible) {
    const reason = { code: 'landing-empty', text: impossible.because, next: impossible.next! };
    return { ...none, atValues: null, conflict: { low: impossible.code, high: 'device-window', gapMm: null, gapAtValuesMm: null }, reasons: [reason, ...reasons] };
  }
  const lower = limits.filter((l) => l.lowMm !== null).reduce((a, b) => (b.lowMm! > a.lowMm! ? b : a));
  const upper = limits.filter((l) => l.highMm !== null).reduce((a, b) => (b.highMm! < a.highMm! ? b : a));
  const low = lower.lowMm!;
  const high = upper.highMm!;
  const atValues = { lowMm: Math.max(...limits.map((l) => (l.lowMm === null ? -Infinity : (l.atMm ?? l.lowMm)))), highMm: Math.min(...limits.map((l) => (l.highMm === null ? Infinity : (l.atMm ?? l.highMm)))) };
  if (low > high) {
    const gapAtValuesMm = (lower.atMm ?? low) - (upper.atMm ?? high);
    const held = gapAtValuesMm <= 0 ? ' At the measured values themselves they do not conflict: a better measurement may open the window.' : '';
    return {
      ...none, atValues, conflict: { low: lower.code, high: upper.code, gapMm: low - high, gapAtValuesMm },
      reasons: [{
        code: 'landing-empty',
        text: `No depth satisfies all limits: ${nameLandingLimit(lower.code)} wants at least ${low.toFixed(1)} mm, ${nameLandingLimit(upper.code)} at most ${high.toFixed(1)} mm, ${(low - high).toFixed(1)} mm apart.${held}`,
        next: 'The team decides and signs which limit yields, or chooses another size or valve.',
      }, ...reasons],
    };
  }
  // The anatomy binds start and stop; the table's own aim does not, since a flaring frame moves before it stands.
  const anatomy = limits.filter((l) => l.code !== 'device-window');
  const least = Math.max(...anatomy.map((l) => l.lowMm ?? -Infinity));
  const most = Math.min(...anatomy.map((l) => l.highMm ?? Infinity));
  return {
    ...base, state: unknown.length > 0 ? 'incomplete' : 'window', empty: false, conflict: null, atValues,
    startMm: Math.max(least, Math.min(most, size.depthMm.start)), aimLowMm: low, aimHighMm: high, stopMm: Math.min(size.depthMm.stop, most), reasons,
  };
}

/** Name of a limit for the reader. */
export function nameLandingLimit(code: string): string {
  return (LANDING_EN as Readonly<Record<string, string>>)[`limit-${code}`] ?? code;
}
