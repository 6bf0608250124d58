import { z } from 'zod';
import { checkDeviceTable, type DeviceTableFailureCode } from '../../core/device/check-device-table.ts';
import type { DeviceTable } from '../../core/device/device-types.ts';
import { fail, type Result } from '../../core/result.ts';
import { readIssue } from './read-issue.ts';

const number = z.number();
const range = z.tuple([number, number]);
const text = z.string().max(200);
const SIZE = z.object({
  label: text.min(1), basalPerimeterMm: range, basalDiameterMm: range, sinusWidthMinMm: number, sinusHeightMinMm: number, ascendingMaxMm: number,
  outflowTractMm: range,
  frame: z.object({ heightMm: number, inflowMm: number, waistMm: number, waistHeightMm: number, outflowMm: number, radialForceNPerMm: range, cells: number }),
  depthMm: z.object({ start: number, aim: range, stop: number }),
  recaptureFraction: number, sheathOuterMm: number, vesselMinMm: number, balloonMaxMm: number,
});
const TABLE = z.object({
  format: z.literal('trinadir.devices/1'), hospital: text.default(''), signedBy: text.default(''), signedAt: text.default(''), training: z.boolean(),
  signedSha256: z.string().regex(/^[0-9a-f]{64}$/).optional(),
  devices: z.array(z.object({ id: text.min(1), kind: z.enum(['self-expanding', 'balloon-expandable']), waitAllowed: z.boolean().optional(), sizes: z.array(SIZE).max(50) })).max(50),
});

/**
 * devices.json of the contract, from parsed JSON.
 * Units     mm
 * Fails     devices-invalid (names the first field), and as checkDeviceTable; a limit left out is devices-limit-missing
 */
export function parseDeviceTable(content: unknown): Result<DeviceTable, DeviceTableFailureCode | 'devices-invalid'> {
  const parsed = TABLE.safeParse(content);
  if (parsed.success) return checkDeviceTable(parsed.data);
  const { field, problem, isMissing } = readIssue(parsed.error);
  if (isMissing && field.startsWith('devices.')) {
    return fail('devices-limit-missing', `The device table has no number at ${field}.`, 'Enter the limit from the instructions for use; a limit that does not exist is not left out.', { field });
  }
  return fail('devices-invalid', `The device table does not fit at ${field} (${problem}).`, 'Its fields are those of docs/tables.md; the first is "format": "trinadir.devices/1".', { field, problem });
}
