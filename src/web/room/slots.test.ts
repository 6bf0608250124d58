import { describe, expect, test } from 'vitest';
import { drawTruth } from '../../../test/support/depth-truth.ts';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import { measureDepth } from '../../core/projection/measure-depth.ts';
import { readDepthPlan } from '../../core/room/read-depth-plan.ts';
import { parseFrames } from '../../formats/frames/parse-frames.ts';
import { listMissing, measureSlots } from './measure-slots.ts';
import { readDepthKey } from './read-depth-key.ts';
import { makeSlots } from './read-frames-file.ts';
import { readNumber } from './read-number.ts';
import { readRunInfo } from './send-run.ts';
import { EMPTY_SLOT, openRun, placeRun, putShot, readGeometry, readShot, showFrame, type RunInfo, type Slot } from './slots.ts';
import { addClick } from './shot.ts';

const RUN: RunInfo = { runId: 'run-1', frames: 8, size: { columns: 512, rows: 512 }, views: [{ primaryDeg: 10, secondaryDeg: -5 }], sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.25, pixelAt: 'detector', findings: [] };
const clicked = (slot: Slot): Slot => putShot(slot, addClick(readShot(slot), 'cuspN', [1, 2]));

describe('views of one reading', () => {
  test('a run opens at its last frame and shows only frames that it has', () => {
    const slot = openRun(RUN);
    expect([slot.frame, showFrame(slot, 99).frame, showFrame(slot, -3).frame, showFrame(slot, 4.4).frame]).toEqual([8, 8, 1, 4]);
  });

  test('marks belong to their frame', () => {
    const marked = clicked(openRun(RUN));
    expect(readShot(marked).clicks).toHaveLength(1);
    expect(readShot(showFrame(marked, 3)).clicks).toHaveLength(0);
    expect(readShot(showFrame(showFrame(marked, 3), 8)).clicks).toHaveLength(1);
  });

  test('a new run takes a place without marks, else the next one, else that of the view shown; a known one is only shown', () => {
    const run = (runId: string): RunInfo => ({ ...RUN, runId });
    const first = placeRun([EMPTY_SLOT], 0, run('run-1'));
    expect(first.slots).toHaveLength(1);
    const second = placeRun([clicked(first.slots[0]!)], 0, run('run-2'));
    expect([second.slots.length, second.shown]).toEqual([2, 1]);
    const again = placeRun(second.slots, 1, run('run-1'));
    expect([again.slots, again.shown]).toEqual([second.slots, 0]);
    const full = placeRun(placeRun(second.slots.map(clicked), 1, run('run-3')).slots.map(clicked), 1, run('run-4'));
    expect(full.slots.map((s) => s.run!.runId)).toEqual(['run-1', 'run-4', 'run-3']);
  });

  test('what a person enters stands in the place of what the run says, and goes when it is cleared', () => {
    const slot = openRun(RUN);
    expect(readGeometry(slot)).toMatchObject({ view: { primaryDeg: 10, secondaryDeg: -5 }, pixelMm: 0.25 });
    expect(readGeometry({ ...slot, entered: { pixelMm: 0.3 } }).pixelMm).toBe(0.3);
    expect(readGeometry({ ...slot, entered: { pixelMm: null } }).pixelMm).toBe(0.25);
    // A pixel that is entered is one of the detector, whatever the run's own was.
    expect(readGeometry({ ...openRun({ ...RUN, pixelAt: 'isocentre' }), entered: { pixelMm: 0.3 } }).pixelAt).toBe('detector');
    const turning = openRun({ ...RUN, frames: 2, views: [{ primaryDeg: 0, secondaryDeg: 0 }, null] });
    expect(readGeometry(turning).view).toBeNull();
    expect(readGeometry(showFrame(turning, 1)).view).toEqual({ primaryDeg: 0, secondaryDeg: 0 });
  });
});

describe('depth of marked views', () => {
  const frozen = makeFrozenFixture().document;
  const plan = readDepthPlan(frozen)!;
  const { plane } = { plane: plan.basalPlane };
  const mark = (runId: string, primaryDeg: number, secondaryDeg: number): Slot => {
    const truth = drawTruth({ plane, view: { primaryDeg, secondaryDeg }, depthMm: 3, radiusMm: 12, runId });
    const slot = openRun(readRunInfo(truth.run.about));
    const shot = [truth.at.cuspN, ...truth.at.inflow].reduce((s, at, i) => addClick(s, (['cuspN', 'inflowA', 'inflowB'] as const)[i]!, at), readShot(slot));
    return putShot(slot, shot);
  };
  const [one, two, near] = [mark('run-one', -15, -23), mark('run-two', 25, -14), mark('run-near', -5, -23)];

  test('one view is uncorrected, two far apart are joined and nearer the truth', () => {
    const single = measureSlots([one], 0, plan);
    expect(single.answer!.reading.state).toBe('uncorrected');
    const joined = measureSlots([one, two], 1, plan);
    expect(joined.answer!.reading).toMatchObject({ state: 'corrected', clicks: 1 });
    // Exact marks: what is left is the divergence and the shape of the frame.
    expect(Math.abs(joined.answer!.reading.depthMm - 3)).toBeLessThan(0.4);
    expect(joined.answer!.reading.lowMm).toBeLessThan(3);
    expect(joined.answer!.reading.highMm).toBeGreaterThan(3);
  });

  test('views too close give the reading of the one shown, with the reason', () => {
    const { answer, failure } = measureSlots([one, near], 1, plan);
    expect(failure!.code).toBe('frames-too-close');
    expect(answer!.reading.views).toEqual([{ primaryDeg: -5, secondaryDeg: -23 }]);
  });

  test('what is missing is named, and a view that lacks something does not spoil the other', () => {
    expect(listMissing(readShot(EMPTY_SLOT))).toEqual(['marks', 'view', 'calibration']);
    const bare: Slot = { ...two, run: { ...two.run!, views: [null], pixelMm: null } };
    expect(listMissing(readShot(bare))).toEqual(['view', 'calibration']);
    expect(measureSlots([one, bare], 1, plan).answer!.reading.views).toEqual([{ primaryDeg: -15, secondaryDeg: -23 }]);
    expect(measureSlots([EMPTY_SLOT], 0, plan)).toEqual({ answer: null, failure: null });
  });

  test('a plan without a root measures nothing', () => {
    const { root: _root, ...rest } = frozen.plan;
    expect(readDepthPlan({ ...frozen, plan: rest })).toBeNull();
  });
});

describe('marks from a file', () => {
  test('become views that measure as the file itself does', () => {
    const frozen = makeFrozenFixture().document;
    const plan = readDepthPlan(frozen)!;
    const truth = drawTruth({ plane: plan.basalPlane, view: { primaryDeg: -15, secondaryDeg: -23 }, depthMm: 3, radiusMm: 12, runId: 'run-one' });
    const shape = { primaryDeg: -15, secondaryDeg: -23, sourceToImageMm: 1100, sourceToPatientMm: 750, columns: 512, rows: 512, marks: { cuspN: [truth.at.cuspN, truth.at.cuspN], frameInflow: truth.at.inflow } };
    const parsed = parseFrames(JSON.stringify({ frames: [{ ...shape, pixelMm: 0.25 }] }));
    if (!parsed.ok) throw new Error(parsed.failure.code);
    const slots = makeSlots(parsed.value);
    expect(slots).toHaveLength(1);
    expect(listMissing(readShot(slots[0]!))).toEqual([]);
    const direct = measureDepth(parsed.value, plan);
    expect(measureSlots(slots, 0, plan).answer).toEqual(direct.ok && direct.value);
    const divided = parseFrames(JSON.stringify({ frames: [{ ...shape, pixelMm: (0.25 * 750) / 1100, pixelAt: 'isocentre' }] }));
    if (!divided.ok) throw new Error(divided.failure.code);
    expect(readGeometry(makeSlots(divided.value)[0]!).pixelAt).toBe('isocentre');
  });
});

describe('keys and numbers', () => {
  test('every wish has its key; pairs go on to their second point', () => {
    const none = () => false;
    expect(readDepthKey('n', none)).toEqual({ wish: 'point', point: 'cuspN' });
    expect(readDepthKey('A', none)).toEqual({ wish: 'point', point: 'axisA' });
    expect(readDepthKey('a', (p) => p === 'axisA')).toEqual({ wish: 'point', point: 'axisB' });
    expect(readDepthKey('c', (p) => p === 'knownA')).toEqual({ wish: 'point', point: 'knownB' });
    expect(readDepthKey('c', () => true)).toEqual({ wish: 'point', point: 'knownA' });
    expect(readDepthKey('.', none)).toEqual({ wish: 'frame', by: 1 });
    expect(readDepthKey('k', none)).toEqual({ wish: 'keep' });
    expect(readDepthKey('x', none)).toBeNull();
  });

  test('a number is all of the text, within its range; a comma is a point', () => {
    expect([readNumber('3,5', 0, 10), readNumber(' 3.5 ', 0, 10), readNumber('\u22122', -5, 5), readNumber('.5', 0, 1)]).toEqual([3.5, 3.5, -2, 0.5]);
    for (const text of ['', '3.5 mm', '1e3', '11', '--1', 'NaN']) expect(readNumber(text, 0, 10), text).toBeNull();
  });
});
