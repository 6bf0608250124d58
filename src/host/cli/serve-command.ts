import { homedir } from 'node:os';
import { join, resolve } from 'node:path';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { openDesk } from '../server/open-desk.ts';
import { readMadeBy } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT, exitOfDesk } from './exit-codes.ts';
import { reportDefect } from './report-defect.ts';
import { reportFailure } from './report-failure.ts';
import { setOwnEnd } from './stop-signal.ts';

export interface ServeOptions {
  readonly data?: string;
  readonly db?: string;
  readonly port?: number;
  readonly host?: string;
  readonly origin?: string;
  readonly oidc?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}
type Env = Readonly<Record<string, string | undefined>>;

/** Where the cases lie: what is said, then TRINADIR_DATA, then the usual place in the home folder. */
export const findDataFolder = (data: string | undefined, env: Env = process.env): string => resolve(data ?? (env['TRINADIR_DATA'] || join(homedir(), '.local', 'share', 'trinadir')));
/** The address of PostgreSQL; undefined: the embedded engine. */
export const findDbUrl = (db: string | undefined, env: Env = process.env): string | undefined => db ?? (env['TRINADIR_DB'] || undefined);

/** Defects of one server life that get a report file; the rest are counted by their absence. */
const MOST_REPORTS = 20;
export function makeDefectTeller(verb: string, options: { readonly json: boolean }, io: CommandIo): (problem: unknown, where: string) => void {
  let told = 0;
  return (problem, where) => {
    if (++told <= MOST_REPORTS) reportFailure(reportDefect(problem, where), verb, options, io);
  };
}

/** `trinadir serve`: the pages over the stored cases, until the person ends it. `onEnd` gets what ends it. */
export async function runServeCommand(options: ServeOptions, io: CommandIo, onEnd: (end: () => void) => void = setOwnEnd): Promise<number> {
  const json = options.json === true;
  io.err(`${HOUSE_EN.caution}\n`);
  if (options.quiet !== true) io.err(`${SERVER_EN.serveOpensStore}\n`);
  const stopped = new Promise<void>((end) => onEnd(() => end()));
  const desk = await openDesk({
    dataFolder: findDataFolder(options.data), dbUrl: findDbUrl(options.db), port: options.port, host: options.host, origin: options.origin, oidcFile: options.oidc,
    version: readMadeBy(), onDefect: makeDefectTeller('serve', { json }, io),
  });
  if (!desk.ok) {
    reportFailure(desk.failure, 'serve', { json }, io);
    return exitOfDesk(desk.failure.code);
  }
  const { startUrl, isFirstStart, port, close } = desk.value;
  if (json) io.out(`${JSON.stringify({ url: startUrl, port, isFirstStart })}\n`);
  else io.err(`${formatText(SERVER_EN, isFirstStart ? 'servingFirst' : 'serving', { url: startUrl })}\n`);
  await stopped;
  await close();
  return EXIT.answered;
}
