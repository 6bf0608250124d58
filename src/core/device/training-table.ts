import type { Device, DeviceSize, DeviceTable, PatientFacts, Range, Rule, RuleSet } from './device-types.ts';

/**
 * The bundled table: INVENTED sizes for training, of no maker. Every page, sheet and export that it touches says
 * "training, invented sizes".
 */
const round1 = (v: number): number => Math.round(v * 10) / 10;
const perimeterOf = ([low, high]: Range): Range => [round1(Math.PI * low), round1(Math.PI * high)];

function makeSelfExpanding(label: number, ring: Range, sheathOuterMm: number): DeviceSize {
  return {
    label: String(label), basalPerimeterMm: perimeterOf(ring), basalDiameterMm: ring,
    sinusWidthMinMm: ring[1] + 2.5, sinusHeightMinMm: 14, ascendingMaxMm: label + 14, outflowTractMm: [ring[0] - 3, ring[1] + 3],
    // Hourglass of the reference model, scaled to the size: 13.0 -> 11.2 at 19 mm -> 16.0 mm for a 26 mm frame.
    frame: {
      heightMm: 45, inflowMm: label, waistMm: round1(label * 0.8615), waistHeightMm: 19, outflowMm: round1(label * 1.2308),
      radialForceNPerMm: [4, 6], cells: 15,
    },
    depthMm: { start: 3, aim: [1, 5], stop: 6 }, recaptureFraction: 0.8, sheathOuterMm, vesselMinMm: round1(sheathOuterMm - 0.5), balloonMaxMm: Math.floor(ring[1]),
  };
}

function makeBalloonExpandable(label: number, ring: Range, heightMm: number, sheathOuterMm: number): DeviceSize {
  return {
    label: String(label), basalPerimeterMm: perimeterOf(ring), basalDiameterMm: ring,
    sinusWidthMinMm: ring[1] + 2, sinusHeightMinMm: 12, ascendingMaxMm: 60, outflowTractMm: [ring[0] - 3, ring[1] + 3],
    frame: { heightMm, inflowMm: label, waistMm: label, waistHeightMm: heightMm / 2, outflowMm: label, radialForceNPerMm: [8, 12], cells: 12 },
    depthMm: { start: 4, aim: [2, 5], stop: 6 }, recaptureFraction: 0.01, sheathOuterMm, vesselMinMm: round1(sheathOuterMm - 0.5), balloonMaxMm: label,
  };
}

const DEVICES: readonly Device[] = [
  {
    id: 'training-self-expanding', kind: 'self-expanding',
    sizes: [makeSelfExpanding(24, [19.5, 21.5], 5.9), makeSelfExpanding(27, [21.5, 24.2], 5.9), makeSelfExpanding(30, [24.2, 27], 6.1), makeSelfExpanding(33, [27, 29.8], 6.7)],
  },
  {
    id: 'training-balloon-expandable', kind: 'balloon-expandable',
    sizes: [makeBalloonExpandable(21, [18, 20.2], 17, 6), makeBalloonExpandable(24, [20.2, 23], 18, 6), makeBalloonExpandable(27, [23, 26], 20, 6.4), makeBalloonExpandable(30, [26, 29], 22, 6.9)],
  },
];

const SIGNED = { hospital: 'Training', signedBy: 'training set', signedAt: '2026-01-05T08:00:00Z', training: true } as const;

export const TRAINING_TABLE: DeviceTable = { format: 'trinadir.devices/1', ...SIGNED, devices: DEVICES };

const rule = (code: string, value: number, unit: string, strict: boolean, definition: string, source: string, status: Rule['status'], edition = '1'): Rule => ({ code, value, unit, strict, definition, edition, source, status });

/**
 * Published thresholds as a proposal, room limits invented. A hospital copies them, changes what it must and signs;
 * only a signed set acts. This one is signed as training and acts on training cases alone.
 */
export const TRAINING_RULES: RuleSet = {
  format: 'trinadir.rules/1', ...SIGNED,
  rules: [
    rule('reach-lao', 60, 'deg', false, 'Largest LAO angle of the C-arm with table and patient', 'invented for training', 'M'),
    rule('reach-rao', 60, 'deg', false, 'Largest RAO angle of the C-arm with table and patient', 'invented for training', 'M'),
    rule('reach-cranial', 40, 'deg', false, 'Largest cranial angle of the C-arm with table and patient', 'invented for training', 'M'),
    rule('reach-caudal', 40, 'deg', false, 'Largest caudal angle of the C-arm with table and patient', 'invented for training', 'M'),
    rule('septum-overlap', 0, 'mm', false, 'Most that the frame may reach below the lower edge of the membranous septum (depth - length): new conduction abnormality 7.1 % without overlap, 18.8 % below 2.5 mm, 47.1 % from 2.5 mm', 'Jorgensen TH et al., EuroIntervention 2022;17:1061-9 (checks CT-45)', 'V', '2022'),
    rule('valve-to-coronary', 4, 'mm', true, 'Least distance from frame to ostium where the cusp reaches higher than the ostium (obstruction when <= 4 mm)', 'JACC Cardiovasc Interv, PMC9991077 (checks CT-48)', 'V', '2023'),
    rule('outflow-deposit', 20, 'mm3', false, 'Outflow calcium deposit from this volume on: the inflow edge stays above its upper end', 'common practice, no source', 'M'),
    rule('septal-bulge', 2, 'mm', false, 'Septal bulge from this height on: the inflow edge stays above its summit', 'common practice, no source; published evidence is mixed (job.md [8]-[10])', 'M'),
    rule('mitral-clearance', 1, 'mm', false, 'Least distance that the inflow edge keeps from the anterior mitral leaflet', 'common practice, no source', 'M'),
    rule('frame-above-junction', 5, 'mm', false, 'Least height of a self-expanding frame above the sinotubular junction', 'common practice, no source', 'M'),
    rule('depth-old', 60, 's', false, 'A depth read longer ago than this is shown grey with its age', 'local setting, invented for training', 'M'),
    rule('depth-gone', 180, 's', false, 'A depth read longer ago than this is no answer any more', 'local setting, invented for training', 'M'),
    rule('expansion-wait', 600, 's', false, 'How long a released self-expanding frame is left to expand before its leak is judged', 'common practice, no source', 'M'),
    rule('contrast-most', 150, 'mL', false, 'Most contrast in one procedure', 'invented for training; depends on the kidneys', 'M'),
    rule('air-kerma-most', 3000, 'mGy', false, 'Air kerma at the reference point from which the room is told', 'common practice, no source', 'M'),
    rule('dose-area-most', 300, 'Gy.cm2', false, 'Dose-area product from which the room is told', 'common practice, no source', 'M'),
    rule('act-least', 250, 's', false, 'Least activated clotting time while the valve is placed', 'common practice, no source', 'M'),
    rule('recapture-attempts', 2, '1', false, 'How often one frame may be recaptured', 'invented for training; the instructions for use decide', 'M'),
    rule('recapture-inspect-after', 2, '1', false, 'From this many recaptures on the valve is taken out and looked at before it is used again', 'invented for training; the instructions for use decide', 'M'),
    rule('recapture-replace-after', 3, '1', false, 'From this many recaptures on the valve is replaced', 'invented for training; the instructions for use decide', 'M'),
  ],
};

/** What the demo enters for its invented patient. */
export const TRAINING_PATIENT: PatientFacts = {
  format: 'trinadir.patient/1', by: 'training set', sex: 'F',
  membranousSeptumMm: { value: 5.5, halfWidth95: 1 }, mitralClearanceMm: { value: 9, halfWidth95: 1.5 },
  vesselMinMm: { right: { value: 7.1, halfWidth95: 0.4 }, left: { value: 6.6, halfWidth95: 0.4 } },
  valveForm: 'three-cusps', pacingPerMin: 120, isPredilated: false, catheterTension: 'neutral',
};

/** The number of an active rule; null when the set does not hold it. */
export function findRule(rules: RuleSet | null, code: string): Rule | null {
  return rules?.rules.find((r) => r.code === code) ?? null;
}
