import { z } from 'zod';
import type { Plan } from '../../core/case/plan-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { readIssue } from '../tables/read-issue.ts';

export type PlanReadFailureCode = 'plan-not-json' | 'plan-invalid' | 'plan-other-format';

const number = z.number();
const xyz = z.tuple([number, number, number]);
const reason = z.object({ code: z.string(), text: z.string(), next: z.string() });
const fact = z.looseObject({ value: number.nullable(), low: number.nullable(), high: number.nullable(), unit: z.string(), status: z.enum(['settled', 'doubtful', 'refused']), reasons: z.array(reason) })
  .refine((f) => (f.value === null) === (f.status === 'refused') && (f.value === null || (f.low !== null && f.high !== null && f.low <= f.value && f.value <= f.high)), 'a fact is refused or has a value within its interval');
const byCusp = <T extends z.ZodType>(of: T) => z.object({ R: of, L: of, N: of });
const rings = { areaMm2: fact, perimeterMm: fact, minDiameterMm: fact, maxDiameterMm: fact };
const ostium = z.looseObject({ ostiumLps: xyz, heightMm: fact });
const leaflet = z.object({ lengthMm: fact }).optional();
const grid = z.array(z.array(number.nullable()));
const unitVector = xyz.refine((v) => Math.abs(Math.hypot(...v) - 1) < 1e-3, 'a unit vector');
const ROOT = z.looseObject({
  basalPlane: z.looseObject({ pointLps: xyz, normalLps: unitVector, nadirsLps: byCusp(xyz), tiltUncertaintyDeg: number, nadirUncertaintyMm: byCusp(number) }),
  basalRing: z.looseObject({ ...rings, areaDiameterMm: fact, perimeterDiameterMm: fact, ellipticity: fact, contourLps: z.array(xyz) }),
  levels: z.array(z.looseObject({ ...rings, heightMm: number, contourLps: z.array(xyz) })),
  outflowTract: z.looseObject({ ...rings, heightMm: number }),
  sinuses: z.looseObject({ widthMm: byCusp(fact), heightMm: byCusp(fact) }),
  sinotubularJunction: z.looseObject({ heightMm: fact, diameterMm: fact }),
  ascendingAorta: z.looseObject({ diameterMm: fact }),
  coronaries: z.looseObject({ left: ostium.optional(), right: ostium.optional() }),
  leaflets: z.looseObject({ R: leaflet, L: leaflet, N: leaflet }),
  calcium: z.looseObject({ deposits: z.array(z.looseObject({ centreLps: xyz, volumeMm3: number, cusp: z.enum(['R', 'L', 'N']), heightMm: number, protrusionMm: number })) }).optional(),
  septum: z.looseObject({ bulgeMm: fact, bulgeHeightMm: fact, angleToBasalPlaneDeg: fact }),
  membranousSeptum: z.looseObject({ lengthMm: fact }),
  angulationDeg: fact,
  map: z.looseObject({ azimuthDeg: z.array(number), heightMm: z.array(number), radiusMm: grid, calciumHu: grid })
    .refine((m) => [m.radiusMm, m.calciumHu].every((g) => g.length === m.heightMm.length && g.every((row) => row.length === m.azimuthDeg.length)), 'rows by height, columns by azimuth'),
});
const PLAN = z.looseObject({ format: z.literal('trinadir.plan/1'), madeBy: z.string(), madeAt: z.string(), training: z.boolean(), scan: z.looseObject({}), root: ROOT.optional(), messages: z.array(z.looseObject({})) });

/**
 * plan.json as this tool wrote it: format, and everything of the root that later questions read.
 * Fails     plan-not-json, plan-other-format, plan-invalid (names the first field)
 */
export function parsePlan(text: string): Result<Plan, PlanReadFailureCode> {
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    return fail('plan-not-json', 'The plan is not JSON.', 'Give the plan.json that trinadir plan wrote.');
  }
  const parsed = PLAN.safeParse(content);
  if (parsed.success) return succeed(parsed.data as unknown as Plan);
  const { field, problem } = readIssue(parsed.error);
  if (field === 'format') return fail('plan-other-format', 'This is no plan of this format.', 'Give the plan.json that trinadir plan wrote with this version.');
  return fail('plan-invalid', `The plan does not fit at ${field} (${problem}).`, 'Plan again: a plan is not edited by hand.', { field, problem });
}
