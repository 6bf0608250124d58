import { InvalidArgumentError, type Command } from 'commander';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { CommandIo } from './command-io.ts';

/** Adds one verb to the program; its action hands the exit code to `finish`. */
export type AddVerb = (program: Command, io: CommandIo, finish: (exitCode: number) => void) => void;

interface SharedOptions {
  readonly json?: boolean;
  readonly quiet?: boolean;
}

interface PhantomVerbOptions {
  readonly out?: string;
  readonly shape?: string;
  readonly seed?: number;
  readonly list?: boolean;
  readonly replace?: boolean;
}

function parseWhole(low: number, high: number): (text: string) => number {
  return (text) => {
    const value = /^\d{1,10}$/.test(text) ? Number(text) : Number.NaN;
    if (value >= low && value <= high) return value;
    throw new InvalidArgumentError(formatText(HOUSE_EN, 'wholeNumber', { low, high }));
  };
}

/** What all verbs share. The worked line stands at the end of the verb's help. */
export function startVerb(program: Command, name: string, description: string, workedLine: string): Command {
  return program
    .command(name)
    .description(description)
    .option('--quiet', HOUSE_EN.quiet)
    .option('--json', HOUSE_EN.json)
    .addHelpText('after', `\n${HOUSE_EN.example}\n  ${workedLine}`);
}

/** Port, for verbs that serve. */
export const parsePort = parseWhole(0, 65535);

const addScan: AddVerb = (program, io, finish) => {
  startVerb(program, 'scan', HOUSE_EN.scanVerb, 'trinadir scan study.zip --json')
    .argument('<path>', HOUSE_EN.pathArgument)
    .action(async (path: string, options: SharedOptions) => {
      const { runScanCommand } = await import('./scan-command.ts');
      finish(await runScanCommand({ path, ...options }, io));
    });
};

const addPhantom: AddVerb = (program, io, finish) => {
  startVerb(program, 'phantom', HOUSE_EN.phantomVerb, 'trinadir phantom --shape septal-bulge --out training-ct')
    .option('--out <folder>', HOUSE_EN.phantomOut)
    .option('--shape <file>', HOUSE_EN.phantomShape)
    .option('--seed <number>', HOUSE_EN.phantomSeed, parseWhole(0, 0xffffffff))
    .option('--list', HOUSE_EN.phantomList)
    .option('--replace', HOUSE_EN.replace)
    .action(async (options: SharedOptions & PhantomVerbOptions) => {
      const { runPhantomCommand } = await import('./phantom-command.ts');
      finish(await runPhantomCommand(options, io));
    });
};

/**
 * The verbs, in the order of the help. The module of each is loaded when it is used, so that --help and refusals of
 * wrong usage are quick.
 */
export const VERBS: readonly AddVerb[] = [addScan, addPhantom];
