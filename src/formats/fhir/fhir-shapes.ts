import { z } from 'zod';

/**
 * The part of FHIR R4 (4.0.1) that is written here, strict: a field that R4 does not have, or that we do not write, does not
 * pass. The types of the installed package are those of Release 3, so these shapes are the types too.
 * Source    HL7 FHIR R4: bundle, observation, procedure, datatypes, references; docs/methods/room-log.md
 */
const URI = z.string().regex(/^\S+$/);
/** Strings of FHIR are not empty and not only blanks. */
const TEXT = z.string().regex(/\S/).max(1_048_576);
const CODE = z.string().regex(/^[^\s]+(\s[^\s]+)*$/);
const FHIR_ID = z.string().regex(/^[A-Za-z0-9\-.]{1,64}$/);
const INSTANT = z.iso.datetime({ offset: true });
const CODING = z.strictObject({ system: URI, code: CODE, display: TEXT.optional() });
const CONCEPT = z.strictObject({ coding: z.array(CODING).min(1).optional(), text: TEXT.optional() }).refine((c) => c.coding !== undefined || c.text !== undefined);
const IDENTIFIER = z.strictObject({ system: URI, value: TEXT });
const REFERENCE = z.strictObject({ reference: URI.optional(), type: URI.optional(), identifier: IDENTIFIER.optional(), display: TEXT.optional() }).refine((r) => r.reference !== undefined || r.identifier !== undefined || r.display !== undefined);
const QUANTITY = z.strictObject({ value: z.number(), unit: TEXT, system: z.literal('http://unitsofmeasure.org'), code: CODE });
const PERIOD = z.strictObject({ start: INSTANT.optional(), end: INSTANT.optional() }).refine((p) => p.start === undefined || p.end === undefined || p.start <= p.end);
const ANNOTATION = z.strictObject({ text: TEXT });
const META = z.strictObject({ tag: z.array(CODING).min(1) });
const EXTENSION = z.strictObject({ url: URI, valueString: TEXT });

const VALUE = { valueQuantity: QUANTITY.optional(), valueBoolean: z.boolean().optional(), valueString: TEXT.optional(), valueCodeableConcept: CONCEPT.optional(), dataAbsentReason: CONCEPT.optional() };
/** value[x] is one, and why there is none stands only where there is none (obs-6). */
const hasOneValue = (o: { readonly [K in keyof typeof VALUE]?: unknown }): boolean => Object.keys(VALUE).filter((key) => o[key as keyof typeof VALUE] !== undefined).length <= 1;
const COMPONENT = z.strictObject({ code: CONCEPT, ...VALUE }).refine(hasOneValue);

const FHIR_OBSERVATION = z.strictObject({
  resourceType: z.literal('Observation'), id: FHIR_ID, meta: META.optional(), extension: z.array(EXTENSION).min(1).optional(), identifier: z.array(IDENTIFIER).min(1).optional(),
  partOf: z.array(REFERENCE).min(1).optional(), status: z.enum(['registered', 'preliminary', 'final', 'amended', 'corrected', 'cancelled', 'entered-in-error', 'unknown']),
  category: z.array(CONCEPT).min(1).optional(), code: CONCEPT, subject: REFERENCE.optional(), effectiveDateTime: INSTANT.optional(), issued: INSTANT.optional(), performer: z.array(REFERENCE).min(1).optional(),
  ...VALUE, note: z.array(ANNOTATION).min(1).optional(), method: CONCEPT.optional(), component: z.array(COMPONENT).min(1).optional(),
}).refine(hasOneValue);

const FHIR_PROCEDURE = z.strictObject({
  resourceType: z.literal('Procedure'), id: FHIR_ID, meta: META.optional(), identifier: z.array(IDENTIFIER).min(1).optional(), instantiatesUri: z.array(URI).min(1).optional(),
  status: z.enum(['preparation', 'in-progress', 'not-done', 'on-hold', 'stopped', 'completed', 'entered-in-error', 'unknown']),
  code: CONCEPT.optional(), subject: REFERENCE, performedPeriod: PERIOD.optional(), note: z.array(ANNOTATION).min(1).optional(),
});

const RESOURCE = z.discriminatedUnion('resourceType', [FHIR_OBSERVATION, FHIR_PROCEDURE]);
export const FHIR_BUNDLE = z.strictObject({
  resourceType: z.literal('Bundle'), id: FHIR_ID, meta: META.optional(), identifier: IDENTIFIER, type: z.literal('collection'), timestamp: INSTANT,
  entry: z.array(z.strictObject({ fullUrl: z.string().regex(/^urn:\S+$/), resource: RESOURCE })),
})
  // bdl-7: each full address once; references inside the bundle lead to something in it.
  .refine((b) => new Set(b.entry.map((e) => e.fullUrl)).size === b.entry.length)
  .refine((b) => {
    const urls = new Set(b.entry.map((e) => e.fullUrl));
    return b.entry.every(({ resource }) => resource.resourceType !== 'Observation' || (resource.partOf ?? []).every((r) => r.reference === undefined || urls.has(r.reference)));
  });
export type FhirBundle = z.infer<typeof FHIR_BUNDLE>;
export type FhirObservation = z.infer<typeof FHIR_OBSERVATION>;
export type FhirProcedure = z.infer<typeof FHIR_PROCEDURE>;
export type FhirQuantity = z.infer<typeof QUANTITY>;
export type FhirConcept = z.infer<typeof CONCEPT>;
