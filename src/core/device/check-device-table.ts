import { fail, succeed, type Failure, type Result } from '../result.ts';
import { isIsoTime } from '../units/iso-time.ts';
import type { Device, DeviceSize, DeviceTable, Range } from './device-types.ts';

export type DeviceTableFailureCode =
  | 'devices-unsigned' | 'devices-empty' | 'devices-duplicate' | 'devices-negative' | 'devices-units' | 'devices-range-reversed'
  | 'devices-out-of-order' | 'devices-ranges-gap' | 'devices-ranges-overlap' | 'devices-limit-missing' | 'devices-frame' | 'devices-depth';

type Refusal = Failure<DeviceTableFailureCode>;

/** Aortic rings of adults are 15 to 40 mm wide; a table in cm or of French sizes falls outside by far. */
const RING_MM: Range = [12, 45];
const TOUCH_MM = 0.051; // tables print one or two digits: neighbours may leave one step of the last digit open
const PI = Math.PI;

/**
 * Whether a device table can be used: signed, in mm, its sizes in rising order, their ranges touching without gap or
 * overlap, no limit missing. The first fault is reported, with its place in the table.
 *
 * Units     mm
 * Fails     devices-unsigned, devices-empty, devices-duplicate, devices-negative, devices-units, devices-range-reversed,
 *           devices-out-of-order, devices-ranges-gap, devices-ranges-overlap, devices-limit-missing, devices-frame,
 *           devices-depth
 * Source    docs/methods/sizing.md
 */
export function checkDeviceTable(table: DeviceTable): Result<DeviceTable, DeviceTableFailureCode> {
  const refusal = checkSigned(table) ?? checkDevices(table.devices);
  return refusal ? { ok: false, failure: refusal } : succeed(table);
}

function checkSigned({ signedBy, signedAt, hospital }: DeviceTable): Refusal | null {
  const missing = [signedBy.trim() === '' ? 'signedBy' : '', !isIsoTime(signedAt) ? 'signedAt' : '', hospital.trim() === '' ? 'hospital' : ''].filter((f) => f !== '');
  if (missing.length === 0) return null;
  return fail('devices-unsigned', `The device table is not signed: ${missing.join(', ')} is missing or no date.`,
    'A person who answers for the table puts name and time into it, or runs trinadir sign on it.', { missing: missing.join(' ') }).failure;
}

function checkDevices(devices: readonly Device[]): Refusal | null {
  if (devices.length === 0 || devices.some((d) => d.sizes.length === 0)) {
    return fail('devices-empty', 'The device table holds no device, or a device without sizes.', 'Enter at least one device with one size.').failure;
  }
  const ids = devices.map((d) => d.id);
  const twice = ids.find((id, i) => ids.indexOf(id) !== i);
  if (twice !== undefined) return fail('devices-duplicate', 'Two devices of the table have the same id.', 'Give each device its own id.', { place: `devices[${ids.lastIndexOf(twice)}]` }).failure;
  for (const [i, device] of devices.entries()) {
    const labels = device.sizes.map((s) => s.label);
    const same = labels.findIndex((l, k) => labels.indexOf(l) !== k);
    if (same >= 0) return fail('devices-duplicate', 'Two sizes of one device have the same label.', 'Give each size its own label.', { place: `devices[${i}].sizes[${same}]` }).failure;
    for (const [k, size] of device.sizes.entries()) {
      const refusal = checkSize(size, `devices[${i}].sizes[${k}]`);
      if (refusal) return refusal;
    }
    for (let k = 1; k < device.sizes.length; k++) {
      const refusal = checkNeighbours(device.sizes[k - 1]!, device.sizes[k]!, `devices[${i}].sizes[${k}]`);
      if (refusal) return refusal;
    }
  }
  return null;
}

const RANGES = ['basalPerimeterMm', 'basalDiameterMm', 'outflowTractMm'] as const;
const LENGTHS = ['sinusWidthMinMm', 'sinusHeightMinMm', 'ascendingMaxMm', 'recaptureFraction', 'sheathOuterMm', 'vesselMinMm', 'balloonMaxMm'] as const;
const FRAME = ['heightMm', 'inflowMm', 'waistMm', 'waistHeightMm', 'outflowMm', 'cells'] as const;

function checkSize(size: DeviceSize, place: string): Refusal | null {
  const numbers: [string, number][] = [
    ...RANGES.flatMap((k): [string, number][] => [[`${k}[0]`, size[k][0]], [`${k}[1]`, size[k][1]]]),
    ...LENGTHS.map((k): [string, number] => [k, size[k]]),
    ...FRAME.map((k): [string, number] => [`frame.${k}`, size.frame[k]]),
    ['frame.radialForceNPerMm[0]', size.frame.radialForceNPerMm[0]], ['frame.radialForceNPerMm[1]', size.frame.radialForceNPerMm[1]],
  ];
  const broken = numbers.find(([, v]) => !Number.isFinite(v));
  if (broken) return fail('devices-limit-missing', `${broken[0]} of a size is no number.`, 'Enter the limit from the instructions for use; a limit that does not exist is not left out.', { place, field: broken[0] }).failure;
  const negative = numbers.find(([, v]) => v <= 0);
  if (negative) return fail('devices-negative', `${negative[0]} of a size is ${negative[1]}; it must be above 0.`, 'Correct the table and sign it again.', { place, field: negative[0], value: negative[1] }).failure;
  for (const k of [...RANGES, 'radialForceNPerMm' as const]) {
    const [low, high] = k === 'radialForceNPerMm' ? size.frame.radialForceNPerMm : size[k];
    if (low >= high) return fail('devices-range-reversed', `${k} runs from ${low} to ${high}.`, 'Enter the lower end first.', { place, field: k }).failure;
  }
  return checkUnits(size, place) ?? checkFrame(size, place) ?? checkDepth(size, place);
}

/** cm, French and perimeters entered as diameters fall outside what a ring of an adult can be. */
function checkUnits(size: DeviceSize, place: string): Refusal | null {
  const outside = (mm: number): boolean => mm < RING_MM[0] || mm > RING_MM[1];
  const asDiameter: [string, number][] = [
    ['basalDiameterMm', size.basalDiameterMm[0]], ['basalDiameterMm', size.basalDiameterMm[1]],
    ['basalPerimeterMm / pi', size.basalPerimeterMm[0] / PI], ['basalPerimeterMm / pi', size.basalPerimeterMm[1] / PI],
    ['frame.inflowMm', size.frame.inflowMm],
  ];
  const bad = asDiameter.find(([, mm]) => outside(mm));
  if (bad) {
    return fail('devices-units', `${bad[0]} of a size is ${bad[1].toPrecision(3)}: no ring or frame of ${RING_MM[0]} to ${RING_MM[1]} mm.`,
      'Enter lengths in mm (not cm, not French), and perimeters as perimeters.', { place, field: bad[0] }).failure;
  }
  // Diameter and perimeter speak of the same ring: D_P >= D for every ellipse, and an ellipse of 1.5 has D_P 3 % above.
  const [p0, p1] = [size.basalPerimeterMm[0] / PI, size.basalPerimeterMm[1] / PI];
  if (p1 < 0.85 * size.basalDiameterMm[0] || p0 > 1.15 * size.basalDiameterMm[1]) {
    return fail('devices-units', `Perimeter ${size.basalPerimeterMm.join('-')} mm and diameter ${size.basalDiameterMm.join('-')} mm cannot be the same ring.`,
      'Check which of the two is entered in another unit.', { place }).failure;
  }
  return null;
}

function checkFrame({ frame, recaptureFraction }: DeviceSize, place: string): Refusal | null {
  const bad =
    frame.waistHeightMm >= frame.heightMm ? 'waistHeightMm is not below heightMm'
    : frame.waistMm > Math.max(frame.inflowMm, frame.outflowMm) ? 'waistMm is wider than both ends'
    : !Number.isInteger(frame.cells) ? 'cells is no whole number'
    : recaptureFraction > 1 ? 'recaptureFraction is above 1'
    : null;
  return bad === null ? null : fail('devices-frame', `The frame of a size cannot be built: ${bad}.`, 'Correct the table and sign it again.', { place }).failure;
}

/** Depths may be negative only within 3 mm above the plane; start, aim and stop keep their order. */
function checkDepth({ depthMm: { start, aim, stop }, frame }: DeviceSize, place: string): Refusal | null {
  const all = [start, aim[0], aim[1], stop];
  if (all.some((v) => !Number.isFinite(v))) return fail('devices-limit-missing', 'A depth of a size is no number.', 'Enter start, aim and stop.', { place, field: 'depthMm' }).failure;
  const isBad = aim[0] >= aim[1] || stop < aim[1] || all.some((v) => v < -3 || v > 0.6 * frame.heightMm);
  return isBad
    ? fail('devices-depth', `Depths start ${start}, aim ${aim.join('-')}, stop ${stop} mm do not fit: aim rises, stop is not shallower than aim, all lie between -3 mm and 60 % of the frame.`,
        'Depth is + toward the ventricle, from the basal plane to the inflow edge.', { place }).failure
    : null;
}

function checkNeighbours(smaller: DeviceSize, larger: DeviceSize, place: string): Refusal | null {
  for (const k of ['basalPerimeterMm', 'basalDiameterMm'] as const) {
    const [a, b] = [smaller[k], larger[k]];
    const touch = k === 'basalPerimeterMm' ? TOUCH_MM * PI : TOUCH_MM;
    if (b[0] < a[0] || b[1] <= a[1]) return fail('devices-out-of-order', `${k} of a size does not rise above that of the one before.`, 'Enter the sizes from small to large.', { place, field: k }).failure;
    if (b[0] - a[1] > touch) return fail('devices-ranges-gap', `${k}: nothing is offered between ${a[1]} and ${b[0]} mm.`, 'Close the gap, or enter the sizes as two devices.', { place, field: k }).failure;
    if (a[1] - b[0] > touch) return fail('devices-ranges-overlap', `${k}: two sizes claim ${b[0]} to ${a[1]} mm.`, 'Enter where one size ends and the next begins; the tool says itself when a ring lies near the border.', { place, field: k }).failure;
  }
  return null;
}
