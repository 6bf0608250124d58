import { z } from 'zod';
import { API_ERROR, ROUTES, type Route } from './api-routes.ts';

type Json = Readonly<Record<string, unknown>>;
export interface OpenApiDocument {
  readonly openapi: '3.1.0';
  readonly info: { readonly title: string; readonly version: string; readonly description: string };
  readonly paths: Readonly<Record<string, Readonly<Record<string, Json>>>>;
  readonly components: Json;
}

/** JSON Schema of a shape; what the contract describes elsewhere (plan.json, case states) is left open. */
const describeShape = (shape: z.ZodType, io: 'input' | 'output'): Json => {
  const { $schema: _dialect, ...schema } = z.toJSONSchema(shape, { unrepresentable: 'any', io }) as Json;
  return schema;
};

/**
 * The HTTP API as an OpenAPI 3.1 document, made from the table that the server itself binds.
 * Source    OpenAPI Specification 3.1.0
 */
export function makeOpenApi(version: string): OpenApiDocument {
  const paths: Record<string, Record<string, Json>> = {};
  for (const [name, route] of Object.entries(ROUTES) as [string, Route][]) {
    (paths[route.path] ??= {})[route.method.toLowerCase()] = describeRoute(name, route);
  }
  return {
    openapi: '3.1.0',
    info: { title: 'Trinadir', version, description: 'Cases, plans and people of one desk. Every answer other than 2xx is a refusal with code, text and next step.' },
    paths,
    components: {
      schemas: { Refusal: describeShape(API_ERROR, 'input') },
      responses: { Refusal: { description: 'Refused: why, and what to do now', content: { 'application/json': { schema: { $ref: '#/components/schemas/Refusal' } } } } },
      securitySchemes: {
        session: { type: 'apiKey', in: 'cookie', name: 'trinadir_PORT', description: 'Given by POST /api/session' },
        mark: { type: 'apiKey', in: 'header', name: 'X-Trinadir-Csrf', description: 'csrfToken of the session; with Origin on everything that changes something' },
      },
    },
  };
}

function describeRoute(name: string, route: Route): Json {
  const needsMark = route.needs !== 'nobody' && route.method !== 'GET';
  const parameters = [...listParameters(route.params, 'path'), ...listParameters(route.query, 'query')];
  return {
    operationId: name,
    summary: route.summary,
    description: `Needs: ${route.needs}.`,
    security: route.needs === 'nobody' ? [] : [needsMark ? { session: [], mark: [] } : { session: [] }],
    ...(parameters.length === 0 ? {} : { parameters }),
    ...(route.body === null ? {} : { requestBody: { required: true, description: `At most ${route.mostBytes} bytes`, content: { 'application/json': { schema: describeShape(route.body, 'input') } } } }),
    responses: { 200: { description: route.summary, content: describeAnswer(route) }, default: { $ref: '#/components/responses/Refusal' } },
  };
}

function describeAnswer({ answer }: Route): Json {
  if (answer === 'event-stream') return { 'text/event-stream': { schema: { type: 'string' } } };
  if (answer === 'bytes') return { '*/*': {} };
  return { 'application/json': { schema: describeShape(answer, 'input') } };
}

function listParameters(shape: z.ZodType, place: 'path' | 'query'): readonly Json[] {
  const { properties = {}, required = [] } = describeShape(shape, 'input') as { properties?: Readonly<Record<string, Json>>; required?: readonly string[] };
  return Object.entries(properties).map(([name, schema]) => ({ name, in: place, required: place === 'path' || required.includes(name), schema }));
}
