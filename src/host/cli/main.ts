import { Command, CommanderError } from 'commander';
import { fail, type Failure } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { readMadeBy } from './clock.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { reportDefect } from './report-defect.ts';
import { reportFailure } from './report-failure.ts';
import { listenForStop } from './stop-signal.ts';
import { VERBS, type AddVerb } from './verbs.ts';

type UsageFailureCode =
  | 'verb-unknown'
  | 'option-unknown'
  | 'option-invalid'
  | 'option-without-value'
  | 'option-missing'
  | 'argument-missing'
  | 'usage-wrong';

function makeProgram(io: CommandIo, verbs: readonly AddVerb[], finish: (exitCode: number) => void): Command {
  const program = new Command('trinadir')
    .description(HOUSE_EN.program)
    .version(readMadeBy(), '--version', HOUSE_EN.version)
    .helpCommand(false)
    .showSuggestionAfterError(false)
    .exitOverride()
    .configureOutput({ writeOut: (text) => io.out(text), writeErr: () => {}, outputError: () => {} })
    .addHelpText('after', `\n${HOUSE_EN.caution}`);
  for (const add of verbs) add(program, io, finish);
  return program;
}

/** Wrong usage in our words: commander's would repeat what was typed, which may be a path with a name in it. */
function describeUsage(problem: CommanderError, program: Command, verb: string): Failure<UsageFailureCode> {
  const verbs = program.commands.map((command) => command.name()).join(', ');
  const next = verb === '' ? HOUSE_EN.seeHelp : formatText(HOUSE_EN, 'seeVerbHelp', { verb });
  const option = /'(?:-\w, )?(-{1,2}[\w-]+)/.exec(problem.message)?.[1] ?? '';
  switch (problem.code) {
    case 'commander.unknownOption':
      return fail('option-unknown', formatText(HOUSE_EN, 'unknownOption', { option }), next, { option }).failure;
    case 'commander.invalidArgument': {
      const why = /is invalid\. (.*)$/.exec(problem.message)?.[1] ?? '';
      return fail('option-invalid', formatText(HOUSE_EN, 'invalidOption', { option, why }), next, { option }).failure;
    }
    case 'commander.optionMissingArgument':
      return fail('option-without-value', formatText(HOUSE_EN, 'optionWithoutValue', { option }), next, { option }).failure;
    case 'commander.missingMandatoryOptionValue':
      return fail('option-missing', formatText(HOUSE_EN, 'optionMissing', { option }), next, { option }).failure;
    case 'commander.missingArgument':
      return fail('argument-missing', HOUSE_EN.argumentMissing, next).failure;
    default:
      if (verb === '') return fail('verb-unknown', formatText(HOUSE_EN, 'unknownVerb', { verbs }), next).failure;
      return fail('usage-wrong', HOUSE_EN.wrongUsage, next).failure;
  }
}

/** One run of the command line: `words` are what follows the program's name. Gives the exit code; never throws. */
export async function runMain(words: readonly string[], io: CommandIo, verbs: readonly AddVerb[] = VERBS): Promise<number> {
  const json = words.includes('--json');
  let exitCode: number = EXIT.answered;
  const program = makeProgram(io, verbs, (code) => (exitCode = code));
  const verb = program.commands.find((command) => command.name() === words[0])?.name() ?? '';
  const where = verb === '' ? 'trinadir' : verb;
  if (words.length === 0) {
    io.err(`${program.helpInformation()}\n${HOUSE_EN.caution}\n`);
    return EXIT.usage;
  }
  try {
    await program.parseAsync([...words], { from: 'user' });
    return exitCode;
  } catch (problem) {
    if (problem instanceof CommanderError) {
      if (problem.exitCode === 0) return EXIT.answered; // --help, --version
      reportFailure(describeUsage(problem, program, verb), where, { json }, io);
      return EXIT.usage;
    }
    reportFailure(reportDefect(problem, where), where, { json }, io);
    return EXIT.defect;
  }
}

/** The program itself, called by bin/trinadir.mjs. */
export async function runProgram(): Promise<void> {
  const words = process.argv.slice(2);
  const io: CommandIo = {
    out: (text) => void process.stdout.write(text),
    err: (text) => void process.stderr.write(text),
    isTerminal: process.stderr.isTTY === true,
  };
  for (const stream of [process.stdout, process.stderr]) {
    stream.on('error', (problem: { code?: string }) => {
      if (problem.code === 'EPIPE') process.exit(EXIT.answered); // the reader (head, less) has seen enough
      throw problem;
    });
  }
  const stopAtDefect = (problem: unknown): void => {
    reportFailure(reportDefect(problem, 'trinadir'), 'trinadir', { json: words.includes('--json') }, io);
    process.exit(EXIT.defect);
  };
  process.on('uncaughtException', stopAtDefect);
  process.on('unhandledRejection', stopAtDefect);
  listenForStop();
  process.exitCode = await runMain(words, io);
}
