import { formatValueText } from '../../core/case/format-plan.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import type { Device, DeviceSize } from '../../core/device/device-types.ts';
import { askFromPlan, DEFAULT_RELEASES, DEFAULT_SEED, SWEEP_MM } from '../../core/release/ask-from-plan.ts';
import { RELEASE_MODEL, type ReleaseQuestion } from '../../core/release/forecast-release.ts';
import type { ReleaseChoice, ReleaseForecast, Tension } from '../../core/release/release-types.ts';
import { SETTLE_RELEASES, settleRelease, type Settling } from '../../core/release/settle-release.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { forecast } from './answer-questions.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { readPlan } from './read-plan.ts';
import { reportFailure } from './report-failure.ts';

export interface ForecastOptions {
  readonly path: string;
  readonly start?: number | undefined;
  readonly sweep?: readonly number[] | undefined;
  readonly pace?: number | undefined;
  readonly predilated?: boolean | undefined;
  readonly tension?: Tension | undefined;
  readonly device?: string | undefined;
  readonly size?: string | undefined;
  readonly releases?: number | undefined;
  readonly seed?: number | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}
interface Choice {
  readonly device: Device;
  readonly size: DeviceSize;
}

/**
 * `trinadir forecast PLAN`: the release forecast of one start or a sweep, from the plan alone.
 * Exit 3 when only refusals can be given.
 */
export async function runForecastCommand(options: ForecastOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>, code: number): number => {
    reportFailure(failure, 'forecast', { json: options.json === true }, io);
    return code;
  };
  const stamp = readStamp();
  if (!stamp.ok) return stop(stamp.failure, EXIT.usage);
  const plan = await readPlan(options.path);
  if (!plan.ok) return stop(plan.failure, EXIT.refused);
  const { root, landing, views, scan, messages, patient, training } = plan.value;
  if (!root) return stop(fail('plan-without-root', RELEASE_EN.noRoot, RELEASE_EN.noRootNext).failure, EXIT.refused);
  const choice = chooseFrame(plan.value, options);
  if (!choice.ok) return stop(choice.failure, choice.failure.code === 'device-unknown' ? EXIT.usage : EXIT.refused);
  const startMm = options.start ?? middleOf(options.sweep) ?? landing?.startMm ?? undefined;
  if (startMm === undefined) return stop(fail('start-missing', RELEASE_EN.startMissing, RELEASE_EN.startMissingNext).failure, EXIT.usage);
  const asked = askFromPlan(root, choice.value.device, choice.value.size, {
    spacingMm: scan.spacingMm, findingCodes: scan.findings.map((f) => f.code), messageCodes: messages.map((m) => m.code),
    coaxialityDeg: views?.frameAxis?.offNormalDeg ?? null, patient: patient ?? null,
  }, {
    startMm, sweepMm: options.sweep ?? (options.start === undefined ? SWEEP_MM : []), releases: options.releases ?? DEFAULT_RELEASES, seed: options.seed ?? DEFAULT_SEED,
    choice: readChoice(options),
  }, stamp.value);
  if (!asked.ok) return stop(asked.failure, EXIT.refused);
  const release = await forecast(asked.value);
  const settling = settleRelease(asked.value, release, Math.min(SETTLE_RELEASES, asked.value.releases));
  if (options.json) io.out(`${formatValueText(makeAnswer(asked.value, release, settling, choice.value, training))}\n`);
  else io.out(formatAnswer(release, settling, choice.value, training));
  return release.sweep.length === 0 ? EXIT.refused : EXIT.answered;
}

/** The start nearest to the middle of a sweep, so that one of its own starts is the chosen one. */
function middleOf(sweep: readonly number[] | undefined): number | undefined {
  return sweep?.[Math.floor(sweep.length / 2)];
}

function readChoice({ pace, predilated, tension }: ForecastOptions): Partial<ReleaseChoice> {
  return { ...(pace === undefined ? {} : { paceBpm: pace }), ...(predilated === undefined ? {} : { isPredilated: predilated }), ...(tension === undefined ? {} : { tension }) };
}

/** The frame asked for, or that of the plan's landing window. */
function chooseFrame({ size, landing }: Plan, options: ForecastOptions): Result<Choice, 'plan-without-table' | 'device-unknown' | 'release-without-size'> {
  if (!size) return fail('plan-without-table', RELEASE_EN.noTable, RELEASE_EN.noTableNext);
  const deviceId = options.device ?? landing?.device ?? size.table.devices[0]?.id;
  const device = size.table.devices.find((d) => d.id === deviceId);
  const label = options.size ?? (device?.id === landing?.device ? landing?.size : undefined) ?? size.byDevice.find((d) => d.device === device?.id)?.size ?? undefined;
  const found = device?.sizes.find((s) => s.label === label);
  if (device && found) return succeed({ device, size: found });
  const list = size.table.devices.map((d) => `${d.id} ${d.sizes.map((s) => s.label).join(' ')}`).join('; ');
  return fail('device-unknown', RELEASE_EN.noDevice, formatText(RELEASE_EN, 'noDeviceNext', { list }));
}

function makeAnswer(q: ReleaseQuestion, release: ReleaseForecast, settling: readonly Settling[], choice: Choice, training: boolean): object {
  return {
    format: 'trinadir.forecast/1', training, device: choice.device.id, size: choice.size.label, ringErrorN: q.ringErrorN ?? null,
    ...release, settling, caution: HOUSE_EN.caution,
  };
}

function formatAnswer(r: ReleaseForecast, settling: readonly Settling[], { device, size }: Choice, training: boolean): string {
  const here = r.sweep.find((s) => s.startMm === r.startMm);
  const mm = String(r.startMm);
  const lines = [
    ...(training ? [`(${HOUSE_EN.training})`] : []),
    `${device.id} ${size.label}`,
    r.answer === 'cannot say' ? formatText(RELEASE_EN, 'cannotSayFrom', { mm }) : `${formatText(RELEASE_EN, 'answerFrom', { mm })} ${RELEASE_EN[`verdict-${r.answer}`]}.`,
    ...r.sweep.map((s) => formatText(RELEASE_EN, 'line', { start: s.startMm, gripping: s.worlds.gripping.answer, middle: s.worlds.middle.answer, slippery: s.worlds.slippery.answer })),
  ];
  const margin = here?.worlds.middle.holdingMarginN;
  if (margin && margin.value !== null) lines.push(formatText(RELEASE_EN, 'holding', { mid: margin.value.toFixed(0), low: margin.low!.toFixed(0), high: margin.high!.toFixed(0) }));
  for (const reason of r.refusals) lines.push(`  ${reason.code}: ${reason.text}`, `    ${reason.next}`);
  const settled = settling.filter((s) => s.isSettled).map((s) => `${s.measurement} (${s.answer})`);
  if (settled.length > 0) lines.push(formatText(RELEASE_EN, 'settled', { list: settled.join('; ') }));
  lines.push(RELEASE_MODEL, HOUSE_EN.caution);
  return `${lines.join('\n')}\n`;
}
