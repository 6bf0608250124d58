import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';

export type BodyFailureCode = 'body-too-large' | 'body-slow' | 'not-json' | 'request-invalid';
const BODY_MS = 30_000;
/** Deeper than any document of ours; what walks a document recursively stays far from the end of the stack. */
const MOST_LEVELS = 40;

/** The JSON body of a request, of at most `mostBytes`. */
export async function readBody(request: Request, mostBytes: number, bodyMs = BODY_MS): Promise<Result<unknown, BodyFailureCode>> {
  const notJson = fail('not-json', SERVER_EN.notJson, SERVER_EN.notJsonNext);
  const tooLarge = fail('body-too-large', formatText(SERVER_EN, 'bodyTooLarge', { bytes: mostBytes }), SERVER_EN.bodyTooLargeNext, { mostBytes });
  if (!/^application\/json\s*(;|$)/i.test(request.headers.get('content-type') ?? '')) return notJson;
  if (Number(request.headers.get('content-length') ?? 0) > mostBytes) return tooLarge;
  const bytes = await readBytes(request, mostBytes, bodyMs);
  if (bytes === 'too-large') return tooLarge;
  if (bytes === 'slow') return fail('body-slow', SERVER_EN.bodySlow, SERVER_EN.bodySlowNext);
  if (bytes === 'cut') return notJson;
  try {
    const content = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes)) as unknown;
    if (!isDeeper(content, MOST_LEVELS)) return succeed(content);
  } catch {
    return notJson;
  }
  return fail('request-invalid', formatText(SERVER_EN, 'requestInvalid', { where: 'body', problem: 'nested too deeply' }), SERVER_EN.requestInvalidNext);
}

/** A body as it came, of at most `mostBytes`. */
export async function readBytes(request: Request, mostBytes: number, bodyMs = BODY_MS): Promise<Uint8Array | 'too-large' | 'slow' | 'cut'> {
  if (!request.body) return new Uint8Array();
  const reader = request.body.getReader();
  const parts: Uint8Array[] = [];
  let length = 0;
  let timer: NodeJS.Timeout | undefined;
  const slow = new Promise<'slow'>((resolve) => (timer = setTimeout(resolve, bodyMs, 'slow')));
  try {
    for (;;) {
      const next = await Promise.race([reader.read(), slow]);
      if (next === 'slow' || (!next.done && (length += next.value.byteLength) > mostBytes)) {
        reader.cancel().catch(() => {});
        return next === 'slow' ? 'slow' : 'too-large';
      }
      if (next.done) return Buffer.concat(parts);
      parts.push(next.value);
    }
  } catch {
    return 'cut'; // the connection ended
  } finally {
    clearTimeout(timer);
  }
}

/** Level by level, without recursion. */
function isDeeper(content: unknown, mostLevels: number): boolean {
  let level: unknown[] = [content];
  for (let depth = 0; level.length > 0; depth++) {
    if (depth > mostLevels) return true;
    level = level.flatMap((each) => (each !== null && typeof each === 'object' ? Object.values(each) : []));
  }
  return false;
}
