import { CUSPS, type RootSurvey } from '../root/root-types.ts';
import type { Fact } from '../units/fact.ts';
import type { DeviceSize, EnteredLength, PatientFacts, Range } from './device-types.ts';
import type { SizeLimit } from './size-types.ts';

interface Measured {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}
const readFact = (fact: Fact | undefined): Measured | null => (fact && fact.value !== null ? { value: fact.value, low: fact.low!, high: fact.high! } : null);
const readEntered = (e: EnteredLength | undefined): Measured | null => (e ? { value: e.value, low: e.value - e.halfWidth95, high: e.value + e.halfWidth95 } : null);

/** A limit on one measured length. "Holds" and "fails" need the whole 95 % interval on one side. */
function judge(code: string, m: Measured | null, range: readonly [number | null, number | null], words: { name: string; missing: string }): SizeLimit {
  const [least, most] = range;
  const wanted = least !== null && most !== null ? `${least} to ${most} mm` : least !== null ? `at least ${least} mm` : `at most ${most} mm`;
  if (!m) return { code, holds: false, state: 'cannot say', marginMm: null, marginLowMm: null, marginHighMm: null, because: `${words.name} is not known (${words.missing}); the table wants ${wanted}.` };
  const inside = (v: number): number => Math.min(least === null ? Infinity : v - least, most === null ? Infinity : most - v);
  const ends = [inside(m.low), inside(m.high)];
  const marginMm = inside(m.value);
  const marginLowMm = Math.min(...ends);
  // The best point of the interval may lie between its ends.
  const marginHighMm = Math.max(...ends, marginMm);
  const isSplit = least !== null && most !== null && m.low < least && m.high > most;
  const state = marginLowMm >= 0 && !isSplit ? 'holds' : marginHighMm < 0 ? 'fails' : 'cannot say';
  return { code, holds: state === 'holds', state, marginMm, marginLowMm, marginHighMm, because: `${words.name} ${m.value.toFixed(1)} mm (${m.low.toFixed(1)} to ${m.high.toFixed(1)}); the table wants ${wanted}.` };
}

/** Of three cusps the one that decides: the least room at the adverse end; unknown when one of them is. */
function worstOf(facts: readonly (Fact | undefined)[]): Measured | null {
  const all = facts.map(readFact);
  if (all.some((m) => m === null)) return null;
  return all.reduce((worst, m) => (m!.low < worst!.low ? m : worst));
}

/**
 * Every limit of a size against the measured root, in the order of the page.
 * Codes   ring-perimeter, ring-area-diameter, ring-mean-diameter, sinus-width, sinus-height, ascending-aorta,
 *         outflow-tract, outflow-calcium, access-vessel
 */
export function judgeSizeLimits(root: RootSurvey, size: DeviceSize, patient: PatientFacts | null): readonly SizeLimit[] {
  const ring = root.basalRing;
  const both = (r: Range): readonly [number, number] => [r[0], r[1]];
  const survey = { missing: 'the survey did not measure it' };
  return [
    judge('ring-perimeter', readFact(ring.perimeterMm), both(size.basalPerimeterMm), { name: 'Perimeter', ...survey }),
    judge('ring-area-diameter', readFact(ring.areaDiameterMm), both(size.basalDiameterMm), { name: 'Area-derived diameter', ...survey }),
    judge('ring-mean-diameter', meanDiameter(root), both(size.basalDiameterMm), { name: 'Mean of smallest and largest diameter', ...survey }),
    judge('sinus-width', worstOf(CUSPS.map((c) => root.sinuses.widthMm[c])), [size.sinusWidthMinMm, null], { name: 'Narrowest sinus', ...survey }),
    judge('sinus-height', worstOf(CUSPS.map((c) => root.sinuses.heightMm[c])), [size.sinusHeightMinMm, null], { name: 'Lowest sinus', ...survey }),
    judge('ascending-aorta', readFact(root.ascendingAorta.diameterMm), [null, size.ascendingMaxMm], { name: 'Ascending aorta', ...survey }),
    judge('outflow-tract', outflowDiameter(root), both(size.outflowTractMm), { name: 'Outflow tract at -5 mm', ...survey }),
    judgeCalcium(root, size),
    judge('access-vessel', bestVessel(patient), [size.vesselMinMm, null], { name: 'Narrowest place of the wider side', missing: 'no route was measured or entered' }),
  ];
}

function meanDiameter(root: RootSurvey): Measured | null {
  const [a, b] = [readFact(root.basalRing.minDiameterMm), readFact(root.basalRing.maxDiameterMm)];
  return a && b ? { value: (a.value + b.value) / 2, low: (a.low + b.low) / 2, high: (a.high + b.high) / 2 } : null;
}

/** Area-derived, as the ring's own. */
function outflowDiameter(root: RootSurvey): Measured | null {
  const area = readFact(root.outflowTract.areaMm2);
  const d = (mm2: number): number => 2 * Math.sqrt(Math.max(0, mm2) / Math.PI);
  return area ? { value: d(area.value), low: d(area.low), high: d(area.high) } : null;
}

function bestVessel(patient: PatientFacts | null): Measured | null {
  const sides = [readEntered(patient?.vesselMinMm?.right), readEntered(patient?.vesselMinMm?.left)].filter((m) => m !== null);
  return sides.length === 0 ? null : sides.reduce((best, m) => (m.low > best.low ? m : best));
}

/**
 * No table limits calcium; it is told with what is published about it. "Holds" means that none was found below the ring.
 * Source    checks CT-58 (area sizing with outflow calcium: best 7.2 %, injuries on average 15.5 %, of 4 patients only)
 */
function judgeCalcium(root: RootSurvey, size: DeviceSize): SizeLimit {
  const code = 'outflow-calcium';
  const bare = { code, marginMm: null, marginLowMm: null, marginHighMm: null };
  const volume = readFact(root.calcium?.outflowMm3);
  if (!volume) return { ...bare, holds: false, state: 'cannot say', because: 'Calcium below the ring was not measured.' };
  if (volume.value === 0) return { ...bare, holds: true, state: 'holds', because: 'No calcium was found below the ring.' };
  const area = readFact(root.basalRing.areaMm2);
  const over = area ? `; this size is ${(100 * ((Math.PI * size.frame.inflowMm ** 2) / 4 / area.value - 1)).toFixed(0)} % over the ring by area` : '';
  return {
    ...bare, holds: false, state: 'cannot say',
    because: `${volume.value.toFixed(0)} mm3 (${volume.low.toFixed(0)} to ${volume.high.toFixed(0)}) of calcium lie below the ring${over}. Published for balloon-expandable valves: injuries at 15.5 % on average, of 4 patients only.`,
  };
}
