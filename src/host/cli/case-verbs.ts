import { InvalidArgumentError, Option, type Command } from 'commander';
import { fail } from '../../core/result.ts';
import { ECG_MOMENTS } from '../../core/rhythm/rhythm-types.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import type { CaseExportOptions } from './case-export-command.ts';
import type { AddedBeside } from '../case-file/read-added-result.ts';
import type { CommandIo } from './command-io.ts';
import { parseSaid, type ContrastSaid } from './contrast-said.ts';
import { EXIT } from './exit-codes.ts';
import { reportFailure } from './report-failure.ts';

interface Shared {
  readonly json?: boolean;
  readonly quiet?: boolean;
  readonly by?: string;
}
interface Place {
  readonly data?: string;
  readonly db?: string;
}
type Finish = (exitCode: number) => void;

/** Where stored cases lie, as `serve` finds them. */
async function findPlace({ data, db }: Place) {
  const { findDataFolder, findDbUrl } = await import('./serve-command.ts');
  return { dataFolder: findDataFolder(data), dbUrl: findDbUrl(db) };
}

function readSaid(text: string): ContrastSaid {
  const said = parseSaid(text);
  if (said === null) throw new InvalidArgumentError(CONTRAST_EN.saidWrong);
  return said;
}

/** A verb of a case, with its worked line. */
function startPart(parent: Command, name: string, description: string, workedLine: string): Command {
  return parent.command(name).description(description).option('--quiet', HOUSE_EN.quiet).option('--json', HOUSE_EN.json)
    .addHelpText('after', `\n${HOUSE_EN.example}\n  ${workedLine}\n\n${CASE_FILE_EN.personal}`);
}
/** The library gives an option that both know to the outer verb, wherever it stands. */
const listOuter = (parent: Command): Shared => {
  const { json, quiet } = parent.opts<Shared>();
  return { ...(json ? { json } : {}), ...(quiet ? { quiet } : {}) };
};
const withPlace = (verb: Command): Command => verb.option('--data <folder>', SERVER_EN.dataFolder).option('--db <url>', SERVER_EN.dbUrl);

/** `trinadir case ...`: the case file. */
export function addCaseVerbs(program: Command, io: CommandIo, finish: Finish): void {
  const parent = startPart(program, 'case', CASE_FILE_EN.caseVerb, 'trinadir case new case-7 --label "A 7"');

  parent.action(({ json }: Shared) => {
    reportFailure(fail('case-verb-missing', CASE_FILE_EN.verbMissing, CASE_FILE_EN.verbMissingNext).failure, 'case', { json: json === true }, io);
    finish(EXIT.usage);
  });

  startPart(parent, 'new', CASE_FILE_EN.newVerb, 'trinadir case new case-7 --label "A 7" --date 2026-03-02')
    .argument('<dir>', CASE_FILE_EN.newDir)
    .requiredOption('--label <text>', CASE_FILE_EN.label)
    .option('--date <day>', CASE_FILE_EN.date)
    .option('--training', CASE_FILE_EN.trainingOption)
    .option('--by <name>', CASE_FILE_EN.by)
    .action(async (dir: string, options: Shared & { readonly label: string; readonly date?: string; readonly training?: boolean }) => {
      const { runCaseNewCommand } = await import('./case-new-command.ts');
      finish(await runCaseNewCommand({ dir, ...options, ...listOuter(parent) }, io));
    });

  startPart(parent, 'add', CASE_FILE_EN.addVerb, 'trinadir case add case-7 answer/plan.json')
    .argument('<dir>', CASE_FILE_EN.dirArgument)
    .argument('<file>', CASE_FILE_EN.fileArgument)
    .option('--by <name>', CASE_FILE_EN.by)
    .addOption(new Option('--moment <moment>', CASE_FILE_EN.momentOption).choices(['baseline', 'after']))
    .option('--taken-at <instant>', CASE_FILE_EN.takenAtOption)
    .option('--channels <map>', CASE_FILE_EN.channelsOption)
    .option('--echo <id>', CASE_FILE_EN.echoOption)
    .addOption(new Option('--ecg <moment>', CASE_FILE_EN.ecgOption).choices(ECG_MOMENTS))
    .option('--angiogram', CASE_FILE_EN.angiogramOption)
    .option('--said <words>', CONTRAST_EN.saidOption, readSaid)
    .option('--because <reason>', CASE_FILE_EN.becauseOption)
    .action(async (dir: string, file: string, options: Shared & AddedBeside) => {
      const { runCaseAddCommand } = await import('./case-add-command.ts');
      finish(await runCaseAddCommand({ dir, file, ...options, ...listOuter(parent) }, io));
    });

  startPart(parent, 'freeze', CASE_FILE_EN.freezeVerb, 'trinadir case freeze case-7 --by "Colleague One" --identifiers - < identifiers.json')
    .argument('<dir>', CASE_FILE_EN.dirArgument)
    .option('--by <name>', CASE_FILE_EN.by)
    .option('--identifiers <file>', CASE_FILE_EN.identifiers)
    .option('--override <code=reason...>', CASE_FILE_EN.override)
    .action(async (dir: string, options: Shared & { readonly identifiers?: string; readonly override?: readonly string[] }) => {
      const { runCaseFreezeCommand } = await import('./case-freeze-command.ts');
      finish(await runCaseFreezeCommand({ dir, ...options, ...listOuter(parent) }, io));
    });

  startPart(parent, 'log', CASE_FILE_EN.logVerb, `trinadir case log case-7 --kind pacing --data '{"isOn":true,"ratePerMin":120}'`)
    .argument('<dir>', CASE_FILE_EN.dirArgument)
    .option('--kind <kind>', CASE_FILE_EN.kind)
    .option('--data <json>', CASE_FILE_EN.data)
    .option('--corrects <entry>', CASE_FILE_EN.corrects)
    .option('--take-back', CASE_FILE_EN.takeBack)
    .option('--stdin', CASE_FILE_EN.stdin)
    .option('--by <name>', CASE_FILE_EN.by)
    .action(async (dir: string, options: Shared & { readonly kind?: string; readonly data?: string; readonly corrects?: string; readonly takeBack?: boolean; readonly stdin?: boolean }) => {
      const { runCaseLogCommand } = await import('./case-log-command.ts');
      finish(await runCaseLogCommand({ dir, ...options, ...listOuter(parent) }, io));
    });

  withPlace(startPart(parent, 'show', CASE_FILE_EN.showVerb, 'trinadir case show case-7.trinadir.zip --json'))
    .argument('<case>', CASE_FILE_EN.caseArgument)
    .action(async (named: string, options: Shared & Place) => {
      const { runCaseShowCommand } = await import('./case-show-command.ts');
      finish(await runCaseShowCommand({ named, ...options, ...listOuter(parent), ...(await findPlace(options)) }, io));
    });

  addExportTo(parent, io, finish, 'trinadir case export case-7 --zip --out case-7.trinadir.zip');
}

/** `trinadir export CASE`: the same as `case export`. */
export function addExportVerb(program: Command, io: CommandIo, finish: Finish): void {
  addExportTo(program, io, finish, 'trinadir export case-7 --csv --out room.csv');
}

function addExportTo(parent: Command, io: CommandIo, finish: Finish, workedLine: string): void {
  withPlace(startPart(parent, 'export', CASE_FILE_EN.exportVerb, workedLine))
    .argument('<case>', CASE_FILE_EN.caseArgument)
    .requiredOption('--out <file>', CASE_FILE_EN.out)
    .option('--replace', CASE_FILE_EN.replace)
    .option('--zip', CASE_FILE_EN.zip)
    .option('--csv', CASE_FILE_EN.csv)
    .option('--pdf', CASE_FILE_EN.pdf)
    .option('--fhir', CASE_FILE_EN.fhir)
    .option('--sr', CASE_FILE_EN.later)
    .option('--seg', CASE_FILE_EN.later)
    .option('--teaching', CASE_FILE_EN.later)
    .option('--without-identity', CASE_FILE_EN.withoutIdentity)
    .action(async (named: string, options: Place & Omit<CaseExportOptions, 'named'>) => {
      const { runCaseExportCommand } = await import('./case-export-command.ts');
      finish(await runCaseExportCommand({ ...options, ...listOuter(parent), named, ...(await findPlace(options)) }, io));
    });
}
