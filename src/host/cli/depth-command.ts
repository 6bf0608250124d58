import { readFile, stat } from 'node:fs/promises';
import { formatValueText } from '../../core/case/format-plan.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import type { DepthAnswer, DepthFrame } from '../../core/projection/depth-types.ts';
import { measureDepth } from '../../core/projection/measure-depth.ts';
import type { StartForecast } from '../../core/release/release-types.ts';
import { fail, type Failure, type Result } from '../../core/result.ts';
import { judgeDepthPlace, readDepthWindow, type DepthWindow, type PlacedDepth } from '../../core/room/judge-depth-place.ts';
import { makeDepthPlan } from '../../core/room/read-depth-plan.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_EN } from '../../core/text/depth-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason } from '../../core/units/fact.ts';
import { parseFrames, type FramesFailureCode } from '../../formats/frames/parse-frames.ts';
import { readStamp } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { readPlan } from './read-plan.ts';
import { reportFailure } from './report-failure.ts';

export interface DepthOptions {
  readonly path: string;
  readonly frames: string;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}

const MOST_BYTES = 4 << 20;
/** A start of the sweep stands for a depth this near to it. */
const SWEEP_STEP_MM = 0.75;

/** `trinadir depth PLAN --frames FILE`: where the frame stands, from marked fluoroscopy frames. */
export async function runDepthCommand(options: DepthOptions, io: CommandIo): Promise<number> {
  const stop = (failure: Failure<string>, code: number): number => {
    reportFailure(failure, 'depth', { json: options.json === true }, io);
    return code;
  };
  const stamp = readStamp();
  if (!stamp.ok) return stop(stamp.failure, EXIT.usage);
  const plan = await readPlan(options.path);
  if (!plan.ok) return stop(plan.failure, EXIT.refused);
  const { landing, size, views } = plan.value;
  const frame = size?.table.devices.find((d) => d.id === landing?.device)?.sizes.find((s) => s.label === landing?.size)?.frame;
  const depthPlan = makeDepthPlan(plan.value, frame?.inflowMm ?? null);
  if (!depthPlan) return stop(fail('plan-without-root', DEPTH_EN.noRoot, DEPTH_EN.noRootNext).failure, EXIT.refused);
  if (views && !views.offered) {
    const reason = views.reasons[0];
    return stop(fail(reason?.code ?? 'posture-not-stated', reason?.text ?? DEPTH_EN.withheld, reason?.next ?? DEPTH_EN.withheldNext).failure, EXIT.refused);
  }
  const frames = await readFrames(options.frames);
  if (!frames.ok) return stop(frames.failure, EXIT.refused);
  const measured = measureDepth(frames.value, depthPlan);
  if (!measured.ok) return stop(measured.failure, EXIT.refused);
  const answer = measured.value;
  const window = readDepthWindow({ plan: plan.value, choice: landing ?? { device: '', size: '' }, huddle: {}, acceptedDoubts: [] });
  const placed = judgeDepthPlace(answer.reading, window);
  const near = findStart(plan.value, answer.reading.depthMm);
  if (options.json) io.out(`${formatValueText(makeAnswer(answer, window, placed, near, plan.value.training, stamp.value))}\n`);
  else io.out(formatAnswer(answer, window, placed, near, plan.value.training));
  return EXIT.answered;
}

async function readFrames(path: string): Promise<Result<readonly DepthFrame[], FramesFailureCode | 'frames-unreadable'>> {
  try {
    const found = await stat(path);
    if (found.isFile() && found.size <= MOST_BYTES) return parseFrames(await readFile(path, 'utf8'));
  } catch {
    // Said below: what cannot be opened is one answer, whatever the reason.
  }
  return fail('frames-unreadable', DEPTH_EN.framesUnreadable, DEPTH_EN.framesUnreadableNext);
}

function findStart({ release }: Plan, depthMm: number): StartForecast | null {
  const near = [...(release?.sweep ?? [])].sort((a, b) => Math.abs(a.startMm - depthMm) - Math.abs(b.startMm - depthMm))[0];
  return near && Math.abs(near.startMm - depthMm) <= SWEEP_STEP_MM ? near : null;
}

function makeAnswer(a: DepthAnswer, window: DepthWindow, placed: PlacedDepth, near: StartForecast | null, training: boolean, stamp: FactStamp): object {
  const from = ['root.basalPlane', 'frames'];
  const reasons: readonly Reason[] = a.findings.map(({ code, text, next }) => ({ code, text, next }));
  const one: Reason = { code: 'one-frame-only', text: DEPTH_EN.onlyOne, next: DEPTH_EN.onlyOneNext };
  const mm = (v: { readonly depthMm: number; readonly lowMm: number; readonly highMm: number }, why: readonly Reason[]): Fact => makeFact(v.depthMm, v.lowMm, v.highMm, 'mm', 'depth/1', from, stamp, why);
  const isOne = a.reading.state === 'uncorrected';
  return {
    format: 'trinadir.depth/1', training, state: a.reading.state, cusp: a.reading.cusp, edge: a.reading.edge, views: a.reading.views, clicks: a.reading.clicks,
    depthMm: mm(a.reading, isOne ? [one, ...reasons] : reasons),
    correctedDepthMm: isOne ? refuseFact('mm', 'depth/1', stamp, one) : mm(a.reading, reasons),
    middleDepthMm: a.centre ? mm(a.centre, reasons) : refuseFact('mm', 'depth/1', stamp, one),
    separationDeg: a.separationDeg, frameTiltDeg: a.frameTiltDeg, inflowWidthMm: a.inflowWidthMm, residualTilt: a.residualTilt, doubtMm: a.doubt, misfit: a.misfit,
    frames: a.frames, window, place: placed.place, placeBecause: placed.because,
    forecast: near ? { startMm: near.startMm, worlds: near.worlds } : null, findings: a.findings, caution: HOUSE_EN.caution,
  };
}

function formatAnswer(a: DepthAnswer, window: DepthWindow, placed: PlacedDepth, near: StartForecast | null, training: boolean): string {
  const { reading } = a;
  const is = (v: number): string => (reading.depthMm < 0 ? -v : v).toFixed(1);
  const ends = reading.depthMm < 0 ? [reading.highMm, reading.lowMm] : [reading.lowMm, reading.highMm];
  const isOne = reading.state === 'uncorrected';
  const width = a.inflowWidthMm.toFixed(1);
  const d = a.doubt;
  const lines = [
    ...(training ? [`(${HOUSE_EN.training})`] : []),
    formatText(DEPTH_EN, 'answer', { mm: is(reading.depthMm), low: is(ends[0]!), high: is(ends[1]!), side: reading.depthMm < 0 ? DEPTH_EN.above : DEPTH_EN.below }),
    isOne ? DEPTH_EN.uncorrected : formatText(DEPTH_EN, 'corrected', { count: a.frames.length, apart: (a.separationDeg ?? 0).toFixed(0) }),
    a.centre
      ? formatText(DEPTH_EN, 'centre', { mm: a.centre.depthMm.toFixed(1), low: a.centre.lowMm.toFixed(1), high: a.centre.highMm.toFixed(1), tilt: (a.frameTiltDeg ?? 0).toFixed(0), width })
      : formatText(DEPTH_EN, 'width', { width }),
    ...a.frames.map((f) => formatText(DEPTH_EN, 'frame', {
      view: nameView(f.view), mm: f.shownMm.toFixed(1), off: Math.abs(f.offPlaneDeg).toFixed(1), percent: (100 * (1 - f.visibleShare)).toFixed(1), pixel: f.mmPerPx.toFixed(3), clicks: Math.min(...f.points.map((p) => p.clicks)),
    })),
    a.residualTilt.from === 'marks'
      ? formatText(DEPTH_EN, 'tiltMarks', { deg: a.residualTilt.deg.toFixed(1), within: a.residualTilt.withinDeg.toFixed(1) })
      : formatText(DEPTH_EN, 'tiltPlan', { within: a.residualTilt.withinDeg.toFixed(1) }),
    formatPlace(window, placed),
    ...(near ? [formatText(DEPTH_EN, 'forecast', { start: near.startMm, gripping: near.worlds.gripping.answer, middle: near.worlds.middle.answer, slippery: near.worlds.slippery.answer })] : []),
    formatText(DEPTH_EN, 'doubt', { clicks: d.clicks.toFixed(1), planeTilt: d.planeTilt.toFixed(1), placeAlongBeam: d.placeAlongBeam.toFixed(1), calibration: d.calibration.toFixed(1), frameShape: d.frameShape.toFixed(1) }),
    ...a.findings.flatMap((f) => [`  ${f.code}: ${f.text}`, `    ${f.next}`]),
    formatText(DEPTH_EN, 'next', { text: isOne ? DEPTH_EN.nextSecond : reading.clicks < 4 ? DEPTH_EN.nextClicks : DEPTH_EN.nextRead }),
    HOUSE_EN.caution,
  ];
  return `${lines.join('\n')}\n`;
}

function formatPlace(window: DepthWindow, { place, because }: PlacedDepth): string {
  if (window.lowMm === null || window.highMm === null) return window.state === 'empty' ? DEPTH_EN.windowEmpty : DEPTH_EN.windowNone;
  const key = `because-${because}` as keyof typeof DEPTH_EN;
  const why = place === 'cannot say' && key in DEPTH_EN ? ` (${DEPTH_EN[key]})` : '';
  return formatText(DEPTH_EN, 'window', { low: window.lowMm.toFixed(1), high: window.highMm.toFixed(1), place: DEPTH_EN[`place-${place}`] + why });
}
