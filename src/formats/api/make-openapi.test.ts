import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { ROUTES, type Route } from './api-routes.ts';
import { makeOpenApi } from './make-openapi.ts';

/** OpenAPI 3.1.0 as far as this document uses it (sections 4.8.2 to 4.8.30); strict, so that a misspelt field is found. */
const SCHEMA = z.record(z.string(), z.unknown());
const CONTENT = z.record(z.string().regex(/^[\w*+.-]+\/[\w*+.-]+$/), z.strictObject({ schema: SCHEMA.optional() }));
const PARAMETER = z.strictObject({ name: z.string(), in: z.enum(['path', 'query', 'header', 'cookie']), required: z.boolean(), schema: SCHEMA }).refine((p) => p.in !== 'path' || p.required);
const RESPONSE = z.union([z.strictObject({ $ref: z.string() }), z.strictObject({ description: z.string(), content: CONTENT.optional() })]);
const OPERATION = z.strictObject({
  operationId: z.string(), summary: z.string(), description: z.string(), security: z.array(z.record(z.string(), z.array(z.string()))), parameters: z.array(PARAMETER).optional(),
  requestBody: z.strictObject({ required: z.boolean(), description: z.string(), content: CONTENT }).optional(),
  responses: z.record(z.string().regex(/^([1-5]\d\d|default)$/), RESPONSE).refine((r) => Object.keys(r).length > 0),
});
const DOCUMENT = z.strictObject({
  openapi: z.string().regex(/^3\.1\.\d+$/), info: z.strictObject({ title: z.string().min(1), version: z.string().min(1), description: z.string() }),
  paths: z.record(z.string().startsWith('/'), z.partialRecord(z.enum(['get', 'post', 'patch', 'delete']), OPERATION)),
  components: z.strictObject({
    schemas: z.record(z.string().regex(/^[a-zA-Z0-9._-]+$/), SCHEMA), responses: z.record(z.string(), RESPONSE),
    securitySchemes: z.record(z.string(), z.strictObject({ type: z.literal('apiKey'), in: z.enum(['cookie', 'header']), name: z.string(), description: z.string() })),
  }),
});
const document = JSON.parse(JSON.stringify(makeOpenApi('trinadir test'))) as z.infer<typeof DOCUMENT>;
const operations = Object.entries(document.paths).flatMap(([path, methods]) => Object.entries(methods).map(([method, operation]) => ({ path, method, operation: operation! })));

describe('makeOpenApi', () => {
  test('is a valid OpenAPI 3.1 document that survives being written', () => {
    expect(DOCUMENT.safeParse(document).error?.issues ?? []).toEqual([]);
    expect(DOCUMENT.safeParse({ ...document, paths: { 'api/x': {} } }).success).toBe(false); // the check can fail
  });

  test('holds every route of the table and nothing else, each under its own name', () => {
    const told = operations.map(({ path, method, operation }) => `${operation.operationId} ${method} ${path}`);
    expect(told.sort()).toEqual((Object.entries(ROUTES) as [string, Route][]).map(([name, route]) => `${name} ${route.method.toLowerCase()} ${route.path}`).sort());
  });

  test('declares each parameter of a path, and refers only to what it holds', () => {
    for (const { path, operation } of operations) {
      const inPath = [...path.matchAll(/\{(\w+)\}/g)].map((m) => m[1]);
      expect((operation.parameters ?? []).filter((p) => p.in === 'path').map((p) => p.name).sort(), path).toEqual([...inPath].sort());
    }
    const names = [...JSON.stringify(document).matchAll(/"\$ref":"#\/([^"]+)"/g)].map((m) => m[1]!.split('/'));
    expect(names.length).toBeGreaterThan(20);
    for (const steps of names) expect(steps.reduce<unknown>((at, step) => (at as Record<string, unknown>)?.[step], document), steps.join('/')).toBeDefined();
    for (const { operation } of operations) for (const name of operation.security.flatMap((s) => Object.keys(s))) expect(document.components.securitySchemes[name]).toBeDefined();
  });

  test('its schemas take and refuse what the shapes of the server take and refuse', () => {
    const event = { kind: 'mark.moved', data: { mark: 'nadir.R', lps: [1, 2, 3], was: null } };
    const bodies: Readonly<Record<string, readonly [unknown, boolean][]>> = {
      openSession: [[{ login: 'a', password: 'b' }, true], [{ login: '', password: 'b' }, false], [{ login: 'a', password: 'b', more: 1 }, false]],
      addPerson: [[{ login: 'ab', displayName: 'A', role: 'viewer', password: null }, true], [{ login: 'AB', displayName: 'A', role: 'viewer', password: null }, false], [{ login: 'ab', displayName: 'A', role: 'chief', password: null }, false]],
      openCase: [[{ label: 'A', procedureOn: '2026-12-01' }, true], [{ label: 'A'.repeat(61), procedureOn: null }, false]],
      addEvents: [[{ expectSeq: 1, events: [event] }, true], [{ expectSeq: 1, events: [] }, false], [{ expectSeq: 1, events: [{ ...event, kind: 'plan.made' }] }, false], [{ expectSeq: 1, events: [{ ...event, data: { ...event.data, lps: [1, 2] } }] }, false]],
      startImport: [[{ files: 1, bytes: 1 }, true], [{ files: 0, bytes: 1 }, false], [{ files: 1, bytes: 4 * 1024 ** 3 + 1 }, false]],
    };
    for (const [name, tries] of Object.entries(bodies)) {
      const { operation } = operations.find((o) => o.operation.operationId === name)!;
      const told = z.fromJSONSchema(operation.requestBody!.content['application/json']!.schema as Parameters<typeof z.fromJSONSchema>[0]);
      const bound = (ROUTES as Readonly<Record<string, Route>>)[name]!.body!;
      for (const [body, fits] of tries) expect([told.safeParse(body).success, bound.safeParse(body).success], `${name} ${JSON.stringify(body)}`).toEqual([fits, fits]);
    }
  });
});
