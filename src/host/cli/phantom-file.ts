import { z } from 'zod';
import { makeSeededShape } from '../../core/phantom/draw-seeded-shape.ts';
import type { PhantomScan, PhantomShape } from '../../core/phantom/phantom-types.ts';
import { makeTrainingShape } from '../../core/phantom/training-shapes.ts';
import { fail, succeed, type Result } from '../../core/result.ts';

/**
 * The phantom file (`--shape FILE`): a named or seeded root, and what to change about it. Objects are merged key by
 * key, lists are replaced. Field names and meanings: docs/methods/phantom.md.
 */
const number = (low: number, high: number): z.ZodNumber => z.number().min(low).max(high);
const angleDeg = number(-720, 720);
const shiftMm = number(-50, 50);
const hu = number(-1024, 3071);
const triple = (n: z.ZodNumber): z.ZodTuple<[z.ZodNumber, z.ZodNumber, z.ZodNumber]> => z.tuple([n, n, n]);
const byCusp = (n: z.ZodNumber) => z.strictObject({ R: n, L: n, N: n }).partial();
const byCommissure = (n: z.ZodNumber) => z.strictObject({ RL: n, LN: n, NR: n }).partial();
const waves = z.array(z.strictObject({ order: z.int().min(1).max(12), amplitudeMm: number(-5, 5), phaseDeg: angleDeg })).max(12);
const contour = z.strictObject({ meanRadiusMm: number(5, 40), ellipticity: number(1, 2.5), longAxisDeg: angleDeg, waves }).partial();
const coronary = z
  .strictObject({ azimuthDeg: angleDeg, heightMm: number(1, 40), radiusMm: number(0.5, 4), sidewaysDeg: number(-60, 60), riseDeg: number(-60, 60) })
  .partial()
  .nullable();
const calcium = z.strictObject({
  place: z.enum(['leaflet', 'annulus', 'outflow']), azimuthDeg: angleDeg, heightMm: number(-25, 45), radiusMm: number(0, 40),
  semiAxesMm: triple(number(0.2, 12)), leanDeg: angleDeg, attenuationHu: hu,
});

const shape = z
  .strictObject({
    valve: z.enum(['three-leaflet', 'fused-R-L', 'fused-R-N', 'fused-L-N', 'two-sinus']),
    pose: z
      .strictObject({
        positionLps: triple(number(-2000, 2000)), angulationDeg: number(0, 90), leanTowardDeg: angleDeg, rightNadirTurnDeg: angleDeg,
        isMirrored: z.boolean(), turn: z.strictObject({ axisLps: triple(number(-1, 1)), angleDeg }),
      })
      .partial(),
    ring: contour,
    outflow: z.strictObject({ contour, shiftMm: z.tuple([shiftMm, shiftMm]) }).partial(),
    septalBulge: z.strictObject({ inwardMm: number(0, 8), heightMm: number(-14, 5), azimuthDeg: angleDeg, sigmaHeightMm: number(0.5, 10), sigmaAzimuthDeg: number(5, 90) }).partial(),
    nadirAzimuthDeg: byCusp(angleDeg), commissureAzimuthDeg: byCommissure(angleDeg), commissureHeightShare: byCommissure(number(0.2, 0.98)),
    sinusDepthMm: byCusp(number(0, 20)),
    junction: z.strictObject({ contour, heightMm: number(10, 40), heightWaves: waves, shiftMm: z.tuple([shiftMm, shiftMm]) }).partial(),
    ascending: z.strictObject({ radiusMm: number(8, 40), widenOverMm: number(4, 40) }).partial(),
    leaflets: z
      .strictObject({ state: z.enum(['stenotic', 'open', 'closed']), thicknessMm: number(0.2, 4), edgeHeightShare: byCusp(number(0.1, 0.95)), edgeRadiusMm: byCusp(number(0.1, 20)), belly: number(-0.9, 0.9) })
      .partial(),
    calcium: z.array(calcium).max(60),
    coronaries: z.strictObject({ left: coronary, right: coronary }).partial(),
    wallMm: number(0.3, 6), septumToAtriumMm: number(0.3, 10),
    ventricle: z.strictObject({ lengthMm: number(40, 140), widthMm: number(20, 90), wallMm: number(3, 30) }).partial(),
    tissueHu: z.strictObject({ wall: hu, leaflet: hu, myocardium: hu, fat: hu, lung: hu, muscle: hu, liver: hu, cortical: hu, trabecular: hu }).partial(),
    hasLead: z.boolean(),
  })
  .partial();

const scan = z
  .strictObject({
    dims: triple(z.int().min(2).max(2048) as unknown as z.ZodNumber), spacingMm: triple(number(0.1, 20)), sliceThicknessMm: number(0.1, 20),
    centreLps: triple(number(-2000, 2000)), gantryTiltDeg: number(-30, 30), inPlaneTurnDeg: angleDeg, sliceOrder: z.enum(['feet-to-head', 'head-to-feet']),
    blurMm: z.strictObject({ inPlane: number(0, 5), z: number(0, 5) }).partial(),
    noise: z.strictObject({ sdHu: number(0, 500), correlationMm: number(0, 3) }).partial(),
    contrastHu: hu, contrastGradientHuPerCm: number(-100, 100), leftAtriumHu: hu, rightHeartHu: hu,
    seed: z.int().min(0).max(0xffffffff), phasePercent: number(0, 100).nullable(),
    artefacts: z
      .strictObject({
        motionMm: triple(shiftMm), step: z.strictObject({ slicesPerGroup: z.int().min(1).max(1000), shiftMm: triple(shiftMm) }), streakHu: number(0, 2000),
      })
      .partial(),
  })
  .partial();

export const PHANTOM_FILE = z.strictObject({
  format: z.literal('trinadir.phantom/1'),
  from: z.union([z.strictObject({ scenario: z.string() }), z.strictObject({ seed: z.int().min(0).max(0xffffffff) })]).optional(),
  shape: shape.optional(),
  scan: scan.optional(),
});

export type PhantomFileFailureCode = 'phantom-file-not-json' | 'phantom-file-invalid' | 'phantom-scenario-unknown' | 'phantom-too-large';
export interface PhantomPlan {
  readonly shape: PhantomShape;
  readonly scan: PhantomScan;
}
/** 512 x 512 x 1000 voxels are half a gigabyte. */
const MOST_VOXELS = 512 * 512 * 1000;

/** b's own keys laid over a's; lists and plain values are replaced whole. */
export function mergeOver<T>(a: T, b: unknown): T {
  if (b === undefined) return a;
  const isRecord = (v: unknown): v is Record<string, unknown> => typeof v === 'object' && v !== null && !Array.isArray(v);
  if (!isRecord(a) || !isRecord(b)) return b as T;
  const out: Record<string, unknown> = { ...a };
  for (const [key, value] of Object.entries(b)) out[key] = mergeOver(out[key], value);
  return out as T;
}

/**
 * Text of a phantom file to a shape and scan.
 * Fails  phantom-file-not-json, phantom-file-invalid (names the first field), phantom-scenario-unknown, phantom-too-large
 */
export function parsePhantomFile(text: string): Result<PhantomPlan, PhantomFileFailureCode> {
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    return fail('phantom-file-not-json', 'The phantom file is not JSON.', 'Check commas and quotes, or start from docs/methods/phantom.md.');
  }
  const parsed = PHANTOM_FILE.safeParse(json);
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!;
    // keys of our own schema only; a key that we do not know is not repeated
    const field = issue.path.map(String).join('.') || 'the file';
    return fail('phantom-file-invalid', `The phantom file does not fit at ${field} (${issue.code}).`, 'docs/methods/phantom.md lists every field with its range.', { field, problem: issue.code });
  }
  const { from, shape: shapeChange, scan: scanChange } = parsed.data;
  const base = from && 'scenario' in from ? makeTrainingShape(from.scenario) : makeSeededShape(from?.seed ?? 1);
  if (!base) return refuseScenario();
  return checkPlan({ shape: mergeOver(base.shape, shapeChange), scan: mergeOver(base.scan, scanChange) });
}

export function refuseScenario(): ReturnType<typeof fail<'phantom-scenario-unknown'>> {
  return fail('phantom-scenario-unknown', 'There is no training root of that name.', 'trinadir phantom --list prints the names.');
}

function checkPlan(plan: PhantomPlan): Result<PhantomPlan, PhantomFileFailureCode> {
  const voxels = plan.scan.dims.reduce((a, b) => a * b, 1);
  if (voxels > MOST_VOXELS) {
    return fail('phantom-too-large', `The scan has ${voxels} voxels; ${MOST_VOXELS} is the most.`, 'Make fewer or larger voxels.', { voxels, most: MOST_VOXELS });
  }
  for (const side of ['left', 'right'] as const) {
    const c = plan.shape.coronaries[side];
    if (c && Object.values(c).length < 5) {
      const field = `shape.coronaries.${side}`;
      return fail('phantom-file-invalid', `The phantom file does not fit at ${field} (incomplete).`, 'State all five numbers of the artery.', { field, problem: 'incomplete' });
    }
  }
  return succeed(plan);
}
