import { mkdir, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { Plan } from '../../core/case/plan-types.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { PLAN_EN } from '../../core/text/plan-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { makePlan } from './make-plan.ts';
import { PLAN_SECTIONS, type PlanAnswer, type PlanRequest, type PlanSection } from './plan-types.ts';
import { makeProgressBar } from './progress-bar.ts';
import { reportFailure } from './report-failure.ts';
import { claimOutFolder } from './write-whole.ts';

export interface PlanOptions {
  readonly path: string;
  readonly out: string;
  readonly series?: string | undefined;
  readonly devices?: string | undefined;
  readonly rules?: string | undefined;
  readonly patient?: string | undefined;
  readonly landmarks?: string | undefined;
  /** Sections, with commas between. */
  readonly only?: string | undefined;
  readonly replace?: boolean | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

/** All but the route, which is measured from another part of the body. */
const ANSWERED: readonly PlanSection[] = ['scan', 'root', 'size', 'landing', 'views', 'release'];

/** A refusal with the exit code and the place it belongs to. */
interface Stop {
  readonly failure: Failure<string>;
  readonly exitCode: number;
  readonly where: string;
}

/**
 * `trinadir plan PATH --out DIR`: measures the root and writes plan.json, plan.html and surfaces/*.stl.
 * Nothing is written when the scan or the survey refuses. Gives the exit code.
 */
export async function runPlanCommand(options: PlanOptions, io: CommandIo): Promise<number> {
  const stop = (refused: Stop): number => {
    reportFailure(refused.failure, refused.where, { json: options.json === true }, io);
    return refused.exitCode;
  };
  const stamp = readStamp();
  if (!stamp.ok) return stop({ failure: stamp.failure, exitCode: EXIT.usage, where: 'plan' });
  const request = await readRequest(options);
  if (!request.ok) return stop(request.stop);
  const folder = await claimOutFolder(options.out, { replace: options.replace === true, kind: 'plan' });
  if (!folder.ok) return stop({ failure: folder.failure, exitCode: EXIT.usage, where: 'plan' });
  const progress = makeProgressBar(io, { quiet: options.quiet === true });
  try {
    const made = await makePlan(request.value, stamp.value, progress);
    if (!made.ok) {
      await folder.value.abandon();
      progress.end();
      return stop({ failure: made.failure, exitCode: EXIT.refused, where: 'plan' });
    }
    const { plan, files } = made.value;
    await writeAnswer(folder.value.workDir, files);
    const published = await folder.value.publish();
    progress.end();
    if (!published.ok) return stop({ failure: published.failure, exitCode: EXIT.usage, where: 'plan' });
    io.out(options.json === true ? String(files['plan.json']) : formatAnswer(plan, Object.keys(files), published.value));
    return EXIT.answered;
  } catch (problem) {
    progress.end();
    await folder.value.abandon();
    throw problem;
  }
}

type Request = { readonly ok: true; readonly value: PlanRequest } | { readonly ok: false; readonly stop: Stop };

/** Options and the small files they name. A file that cannot be used stops the run before the CT is read. */
async function readRequest(options: PlanOptions): Promise<Request> {
  const sections = readSections(options.only);
  if (!sections.ok) {
    const exitCode = sections.failure.code === 'section-unknown' ? EXIT.usage : EXIT.refused;
    return { ok: false, stop: { failure: sections.failure, exitCode, where: 'plan' } };
  }
  const refuse = (failure: Failure<string>, part: string): Request => ({ ok: false, stop: { failure, exitCode: EXIT.refused, where: `plan ${part}` } });
  const plain = { path: options.path, seriesUid: options.series, sections: sections.value };
  if ([options.landmarks, options.devices, options.rules, options.patient].every((file) => file === undefined)) return { ok: true, value: plain };
  const { readLandmarks, readTable } = await import('./plan-files.ts'); // its schemas take a tenth of a second to load
  const landmarks = options.landmarks === undefined ? null : await readLandmarks(options.landmarks);
  if (landmarks && !landmarks.ok) return refuse(landmarks.failure, 'landmarks');
  const devices = options.devices === undefined ? null : await readTable(options.devices, 'devices');
  if (devices && !devices.ok) return refuse(devices.failure, 'devices');
  const rules = options.rules === undefined ? null : await readTable(options.rules, 'rules');
  if (rules && !rules.ok) return refuse(rules.failure, 'rules');
  const patient = options.patient === undefined ? null : await readTable(options.patient, 'patient');
  if (patient && !patient.ok) return refuse(patient.failure, 'patient');
  return { ok: true, value: { ...plain, landmarks: landmarks?.value, devices: devices?.value, rules: rules?.value, patient: patient?.value } };
}

/**
 * The sections of --only; all that are answered when it is not given.
 * Fails   section-unknown, section-not-in-version (none of those asked for is answered yet)
 */
function readSections(only: string | undefined): Result<readonly PlanSection[], 'section-unknown' | 'section-not-in-version'> {
  if (only === undefined) return succeed(ANSWERED);
  const asked = only.split(',').map((word) => word.trim()).filter((word) => word !== '');
  const known = PLAN_SECTIONS.filter((section) => asked.includes(section));
  if (asked.length === 0 || asked.some((word) => !PLAN_SECTIONS.some((section) => section === word))) {
    return fail('section-unknown', formatText(PLAN_EN, 'onlyUnknown', { sections: PLAN_SECTIONS.join(', ') }), PLAN_EN.onlyNext);
  }
  const missing = known.filter((section) => !ANSWERED.includes(section));
  if (missing.length > 0) {
    return fail('section-not-in-version', formatText(PLAN_EN, 'onlyNotYet', { sections: missing.join(', ') }), PLAN_EN.onlyNotYetNext, { sections: missing.join(' ') });
  }
  return succeed(known);
}

async function writeAnswer(workDir: string, files: PlanAnswer['files']): Promise<void> {
  for (const [name, content] of Object.entries(files)) {
    const path = join(workDir, name);
    await mkdir(dirname(path), { recursive: true });
    await writeFile(path, content);
  }
}

/** The answer for a person: answer, doubt, next, where the files are. */
function formatAnswer(plan: Plan, files: readonly string[], folder: string): string {
  const lines = [`${PLAN_EN.answer}  ${describeRing(plan)}`];
  const sizes = describeSizes(plan);
  if (sizes !== null) lines.push(`  ${sizes}`);
  lines.push(...describeScore(plan).map((line) => `  ${line}`));
  lines.push(...describeQuestions(plan).map((line) => `  ${line}`));
  lines.push(`  ${plan.scan.verdict === 'fit' ? PLAN_EN.scanFit : PLAN_EN.scanDoubt}`);
  const doubts = [
    ...plan.scan.findings.filter(({ severity }) => severity === 'doubt').map(({ code, text }) => ({ code, text })),
    ...plan.messages.map(({ code, text }) => ({ code, text })),
  ];
  lines.push(`${PLAN_EN.doubt}${doubts.length === 0 ? `  ${PLAN_EN.noDoubt}` : ''}`);
  for (const { code, text } of doubts) lines.push(`  ${code}: ${text}`);
  if (plan.root) lines.push(`${PLAN_EN.next}  ${PLAN_EN.look}`);
  lines.push(`${PLAN_EN.written}  ${folder}: ${files.join(', ')}`);
  return `${lines.join('\n')}\n`;
}

/** One line per question after the root: size, landing, start view, release. */
function describeQuestions({ training, size, landing, views, release }: Plan): string[] {
  const lines: string[] = [];
  if (size) {
    const parts = size.byDevice.map((d) => (d.size !== null ? `${d.device} ${d.size}` : d.between.length > 0 ? `${d.device} ${d.between.join(' / ')}` : `${d.device} –`));
    lines.push(formatText(PLAN_EN, 'sizeLine', { list: parts.join('; '), mark: training ? ` (${HOUSE_EN.training})` : '' }));
  }
  if (landing) {
    lines.push(landing.empty || landing.aimLowMm === null || landing.aimHighMm === null ? formatText(PLAN_EN, 'landingEmptyLine', { why: landing.reasons[0]?.text ?? '' })
      : formatText(PLAN_EN, 'landingLine', { low: landing.aimLowMm.toFixed(1), high: landing.aimHighMm.toFixed(1), start: (landing.startMm ?? 0).toFixed(1), state: landing.state === 'incomplete' ? PLAN_EN.landingIncomplete : '' }));
  }
  const start = views?.chosen.find((v) => v.role === 'start');
  if (start) lines.push(formatText(PLAN_EN, 'viewLine', { view: nameView(start), reach: start.reach ? '' : PLAN_EN.viewNotReach }));
  else if (views) lines.push(formatText(PLAN_EN, 'viewNone', { why: views.reasons[0]?.text ?? '' }));
  if (release) lines.push(formatText(PLAN_EN, 'releaseLine', { start: String(release.startMm), answer: release.answer }));
  return lines;
}

function describeSizes(plan: Plan): string | null {
  const ring = plan.root?.basalRing;
  if (!ring || ring.areaMm2.value === null) return null;
  const show = (fact: Fact, digits: number): string => (fact.value === null ? '-' : fact.value.toFixed(digits));
  return formatText(PLAN_EN, 'ringSizes', {
    area: show(ring.areaMm2, 0), perimeter: show(ring.perimeterMm, 1), min: show(ring.minDiameterMm, 1), max: show(ring.maxDiameterMm, 1),
  });
}

/** The calcium score and what it says, where the study holds a series for it. */
function describeScore(plan: Plan): string[] {
  const found = plan.root?.calciumScore;
  if (!found || found.score.value === null) return [];
  const { score, severity } = found;
  const [value, low, high] = [found.score.value, score.low!, score.high!].map((v) => v.toFixed(0));
  const lines = [formatText(PLAN_EN, 'score', { value: value!, low: low!, high: high! })];
  const { likelihood, sex, threshold } = severity;
  if (likelihood === null || !threshold) return [...lines, formatText(PLAN_EN, 'scoreNoSeverity', { why: severity.reasons[0]?.text ?? '' })];
  return [...lines, formatText(PLAN_EN, 'scoreSeverity', {
    likelihood: likelihood === 'grey' ? PLAN_EN.scoreOpen : likelihood, sex: sex === 'F' ? PLAN_EN.women : PLAN_EN.men, edition: threshold.edition, status: threshold.status === 'M' ? PLAN_EN.scoreUnverified : '',
  })];
}

/** What the plan's ring says in one sentence, without its interval where it was refused. */
function describeRing(plan: Plan): string {
  const ring = plan.root?.basalRing;
  if (!ring) return PLAN_EN.rootNotAsked;
  const { value, low, high, reasons } = ring.perimeterDiameterMm;
  if (value === null) return formatText(PLAN_EN, 'ringRefused', { why: reasons[0]?.text ?? '' });
  return formatText(PLAN_EN, 'ring', { value: value.toFixed(1), low: low!.toFixed(1), high: high!.toFixed(1) });
}
