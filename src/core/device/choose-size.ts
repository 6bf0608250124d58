import type { RootSurvey } from '../root/root-types.ts';
import type { Reason } from '../units/fact.ts';
import type { Device, DeviceSize, DeviceTable, PatientFacts } from './device-types.ts';
import { computeFitProbability, readRingDoubt, type RingDoubt } from './ring-doubt.ts';
import { judgeSizeLimits } from './size-limits.ts';
import type { DeviceAnswer, SizeAnswer, SizeCandidate, SizeVerdict } from './size-types.ts';

/** A size holds alone when at least this share of the measurement's own doubt lies inside its ranges. */
export const ALONE_SHARE = 0.95;
/** Below this share a size is out; between the two the ring lies at its border. */
export const OUT_SHARE = 0.05;

/**
 * All sizes of a signed table against one measured root; one answer per device, in the table's order.
 *
 * Method    docs/methods/sizing.md. Joint doubt of perimeter and area decides the fit; every other limit of the table
 *           is listed with its margin and can only take a fit away. The tool does not choose between devices: `answer`
 *           is the first device of the hospital's own order that has a size.
 * Fails     never: what cannot be judged is "cannot say" with its reason
 */
export function chooseSize(root: RootSurvey, table: DeviceTable, patient: PatientFacts | null): SizeAnswer {
  const ring = readRingDoubt(root.basalRing);
  if (!ring) {
    const reason = root.basalRing.perimeterMm.reasons[0] ?? { code: 'ring-not-measured', text: 'The basal ring was not measured.', next: 'Mark the nadirs by hand and plan again.' };
    return { answer: null, byDevice: table.devices.map((d) => noAnswer(d)), candidates: [], doubt: [reason], next: [reason.next], table };
  }
  const tooWide = listTooWide(root, table.devices);
  const candidates = table.devices.flatMap((device) => device.sizes.map((size) => judgeCandidate(device, size, root, ring, patient, tooWide.has(device.id))));
  const byDevice = table.devices.map((device) => answerDevice(device, candidates.filter((c) => c.device === device.id)));
  const first = byDevice.find((d) => d.size !== null);
  const doubt = [...describeSurveyDoubt(root), ...tooWide.values(), ...describeBetween(byDevice, candidates, ring), ...describeOpenLimits(byDevice, candidates)];
  return {
    answer: first ? { device: first.device, size: first.size! } : null,
    byDevice, candidates, doubt, next: [...new Set(doubt.map((d) => d.next))], table,
  };
}

const noAnswer = (device: Device): DeviceAnswer => ({ device: device.id, size: null, between: [], second: { same: null, neighbours: [] } });

function judgeCandidate(device: Device, size: DeviceSize, root: RootSurvey, ring: RingDoubt, patient: PatientFacts | null, isTooWide: boolean): SizeCandidate {
  const limits = judgeSizeLimits(root, size, patient);
  const fitProbability = computeFitProbability(ring, size);
  const inRange = (v: number, [low, high]: readonly [number, number]): boolean => v >= low && v <= high;
  const frame = size.frame.inflowMm;
  const overP = (mm: number): number => 100 * ((Math.PI * frame) / mm - 1);
  const overA = (mm2: number): number => 100 * ((Math.PI * frame * frame) / 4 / mm2 - 1);
  const { perimeterMm, areaMm2 } = root.basalRing;
  return {
    device: device.id, size: size.label,
    oversizeByPerimeterPercent: overP(ring.perimeterMm), oversizeByAreaPercent: overA(ring.areaMm2),
    oversizeByPerimeter95: [overP(perimeterMm.high!), overP(perimeterMm.low!)], oversizeByArea95: [overA(areaMm2.high!), overA(areaMm2.low!)],
    fitProbability,
    votes: {
      perimeter: inRange(ring.perimeterMm, size.basalPerimeterMm), area: inRange(ring.areaDiameterMm, size.basalDiameterMm),
      diameters: inRange(ring.meanDiameterMm, size.basalDiameterMm),
    },
    limits, verdict: isTooWide && fitProbability > OUT_SHARE ? 'cannot say' : judgeVerdict(fitProbability, limits.slice(RING_LIMITS)),
  };
}

/** Told and left to the team: the vessel has its own page, and no table limits calcium. Open, they do not silence the ring. */
const LISTED_ONLY: readonly string[] = ['access-vessel', 'outflow-calcium'];
/** The first three limits speak of the ring, which the fit has judged already. */
const RING_LIMITS = 3;

function judgeVerdict(fit: number, others: readonly { readonly code: string; readonly state: string }[]): SizeVerdict {
  if (fit < OUT_SHARE || others.some((l) => l.state === 'fails')) return 'does not fit';
  if (fit < ALONE_SHARE) return 'borderline';
  return others.some((l) => l.state === 'cannot say' && !LISTED_ONLY.includes(l.code)) ? 'cannot say' : 'fits';
}

function answerDevice(device: Device, candidates: readonly SizeCandidate[]): DeviceAnswer {
  const at = candidates.findIndex((c) => c.verdict === 'fits' && c.votes.perimeter && c.votes.area && c.votes.diameters);
  const labels = device.sizes.map((s) => s.label);
  const near = candidates.map((c, i) => ({ c, i })).filter(({ c }) => c.verdict !== 'does not fit' && (c.fitProbability >= OUT_SHARE || Object.values(c.votes).some(Boolean)));
  if (at >= 0) {
    return { device: device.id, size: labels[at]!, between: [], second: { same: labels[at]!, neighbours: [labels[at - 1], labels[at + 1]].filter((l) => l !== undefined) } };
  }
  // At the edge of the table, or held back by another limit, a single size can be left: it is named, not chosen.
  return { device: device.id, size: null, between: near.map(({ i }) => labels[i]!), second: { same: null, neighbours: near.map(({ i }) => labels[i]!) } };
}

/** The survey's 95 % interval is wider than the step from one size to the next: no size can be told from its neighbour. */
function listTooWide(root: RootSurvey, devices: readonly Device[]): Map<string, Reason> {
  const { low, high } = root.basalRing.perimeterMm;
  const width = high! - low!;
  const found = new Map<string, Reason>();
  for (const device of devices) {
    const step = Math.min(...device.sizes.map((s) => s.basalPerimeterMm[1] - s.basalPerimeterMm[0]));
    if (width <= step) continue;
    found.set(device.id, {
      code: 'survey-wider-than-step',
      text: `The perimeter is known to ${width.toFixed(1)} mm, the sizes of ${device.id} stand ${step.toFixed(1)} mm apart.`,
      next: 'Check the nadirs on the cuts and mark them by hand, or use a scan of thinner slices.',
    });
  }
  return found;
}

function describeSurveyDoubt(root: RootSurvey): Reason[] {
  const { perimeterMm, areaMm2 } = root.basalRing;
  const seen = new Map<string, Reason>();
  for (const reason of [...perimeterMm.reasons, ...areaMm2.reasons]) seen.set(reason.code, reason);
  return [...seen.values()];
}

function describeBetween(byDevice: readonly DeviceAnswer[], candidates: readonly SizeCandidate[], ring: RingDoubt): Reason[] {
  return byDevice.filter((d) => d.size === null).map((d) => {
    const own = candidates.filter((c) => c.device === d.device);
    const share = (label: string): string => `${label}: ${Math.round(100 * own.find((c) => c.size === label)!.fitProbability)} % of the doubt`;
    const split = own.filter((c) => { const v = Object.values(c.votes); return v.some(Boolean) && !v.every(Boolean); });
    if (d.between.length >= 2) {
      return {
        code: 'between-sizes', text: `${d.device}: between ${d.between.join(' and ')} (${d.between.map(share).join(', ')}).`,
        next: `A perimeter known to ${(0.5 * ring.perimeterSdMm).toFixed(1)} mm (one SD) or better, a second reader, the calcium and the outflow tract would decide between ${d.between.join(' and ')}.`,
      };
    }
    if (d.between.length === 1) {
      return {
        code: split.length > 0 ? 'measures-disagree' : 'size-held-back', text: `${d.device}: ${d.between[0]} alone is near, but ${split.length > 0 ? 'perimeter, area and diameters do not all lie in its range' : 'not every limit of the table holds'} (${share(d.between[0]!)}).`,
        next: 'Look at the limits of this size below and decide by the instructions for use.',
      };
    }
    return { code: 'no-size-fits', text: `${d.device}: no size of the table fits this ring.`, next: 'Check the ring on the cuts; if it holds, this table has no valve for it.' };
  });
}

/** Limits that the measurement cannot settle, for sizes still in question. */
function describeOpenLimits(byDevice: readonly DeviceAnswer[], candidates: readonly SizeCandidate[]): Reason[] {
  const found = new Map<string, Reason>();
  for (const d of byDevice) {
    const labels = d.size !== null ? [d.size] : d.between;
    for (const c of candidates.filter((x) => x.device === d.device && labels.includes(x.size))) {
      for (const limit of c.limits.slice(RING_LIMITS)) {
        if (limit.state === 'holds') continue;
        found.set(`${d.device} ${c.size} ${limit.code}`, {
          code: `limit-${limit.code}`, text: `${d.device} ${c.size}: ${limit.because}`,
          next: limit.code === 'access-vessel' ? 'Measure the access route, or enter the narrowest vessel among the values of the patient.' : limit.code === 'outflow-calcium' ? 'Weigh the deposits below the ring on the cuts against the oversizing of each size.' : 'Check this level on the cuts; a limit that fails is decided by the instructions for use.',
        });
      }
    }
  }
  return [...found.values()];
}
