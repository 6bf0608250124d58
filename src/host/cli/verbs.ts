import { dirname, join } from 'node:path';
import { Argument, InvalidArgumentError, Option, type Command } from 'commander';
import type { Tension } from '../../core/release/release-types.ts';
import { fail } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_EN } from '../../core/text/depth-en.ts';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { PRESSURE_EN } from '../../core/text/pressure-en.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { SITUATION_EN } from '../../core/text/situation-en.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { TABLES_EN } from '../../core/text/tables-en.ts';
import { VIEW_EN } from '../../core/text/view-en.ts';
import { addCaseVerbs, addExportVerb } from './case-verbs.ts';
import { addContrastVerb } from './contrast-verb.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT, exitOfDesk } from './exit-codes.ts';
import type { DemoOptions, DemoSteps } from './demo-command.ts';
import { reportFailure } from './report-failure.ts';
import type { ServeOptions } from './serve-command.ts';

/** Adds one verb to the program; its action hands the exit code to `finish`. */
export type AddVerb = (program: Command, io: CommandIo, finish: (exitCode: number) => void) => void;

interface SharedOptions {
  readonly json?: boolean;
  readonly quiet?: boolean;
}

interface PlanVerbOptions {
  readonly out: string;
  readonly series?: string;
  readonly devices?: string;
  readonly rules?: string;
  readonly patient?: string;
  readonly landmarks?: string;
  readonly only?: string;
  readonly replace?: boolean;
}
interface PhantomVerbOptions {
  readonly out?: string;
  readonly shape?: string;
  readonly seed?: number;
  readonly list?: boolean;
  readonly angiogram?: number;
  readonly replace?: boolean;
}

function parseWhole(low: number, high: number): (text: string) => number {
  return (text) => {
    const value = /^\d{1,10}$/.test(text) ? Number(text) : Number.NaN;
    if (value >= low && value <= high) return value;
    throw new InvalidArgumentError(formatText(HOUSE_EN, 'wholeNumber', { low, high }));
  };
}

/** A number with a sign and decimals, as a camera angle is given. */
function parseNumber(low: number, high: number): (text: string) => number {
  return (text) => {
    const value = /^[+-]?\d{1,4}(\.\d{1,6})?$/.test(text) ? Number(text) : Number.NaN;
    if (value >= low && value <= high) return value;
    throw new InvalidArgumentError(formatText(VIEW_EN, 'number', { low, high }));
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
    .option('--angiogram <fraction>', CONTRAST_EN.phantomOption, parseNumber(0, 0.8))
    .option('--replace', HOUSE_EN.replace)
    .action(async (options: SharedOptions & PhantomVerbOptions) => {
      const { runPhantomCommand } = await import('./phantom-command.ts');
      finish(await runPhantomCommand(options, io));
    });
};

const addPlan: AddVerb = (program, io, finish) => {
  startVerb(program, 'plan', HOUSE_EN.planVerb, 'trinadir plan study.zip --out answer')
    .argument('<path>', HOUSE_EN.pathArgument)
    .requiredOption('--out <folder>', HOUSE_EN.planOut)
    .option('--series <uid>', HOUSE_EN.planSeries)
    .option('--devices <file>', HOUSE_EN.planDevices)
    .option('--rules <file>', HOUSE_EN.planRules)
    .option('--patient <file>', HOUSE_EN.planPatient)
    .option('--landmarks <file>', HOUSE_EN.planLandmarks)
    .option('--only <sections>', HOUSE_EN.planOnly)
    .option('--replace', HOUSE_EN.replace)
    .action(async (path: string, options: SharedOptions & PlanVerbOptions) => {
      const { runPlanCommand } = await import('./plan-command.ts');
      finish(await runPlanCommand({ path, ...options }, io));
    });
};

const addView: AddVerb = (program, io, finish) => {
  startVerb(program, 'view', VIEW_EN.viewVerb, 'trinadir view answer/plan.json --primary -12 --secondary -25')
    .argument('<plan>', VIEW_EN.planArgument)
    .requiredOption('--primary <degrees>', VIEW_EN.primary, parseNumber(-180, 180))
    .requiredOption('--secondary <degrees>', VIEW_EN.secondary, parseNumber(-90, 90))
    .action(async (path: string, options: SharedOptions & { readonly primary: number; readonly secondary: number }) => {
      const { runViewCommand } = await import('./view-command.ts');
      finish(await runViewCommand({ path, ...options }, io));
    });
};

const addDepth: AddVerb = (program, io, finish) => {
  startVerb(program, 'depth', DEPTH_EN.depthVerb, 'trinadir depth answer --frames frames.json')
    .argument('<plan>', DEPTH_EN.planArgument)
    .requiredOption('--frames <file>', DEPTH_EN.framesOption)
    .action(async (path: string, options: SharedOptions & { readonly frames: string }) => {
      const { runDepthCommand } = await import('./depth-command.ts');
      finish(await runDepthCommand({ path, ...options }, io));
    });
};

/** Cardiac output, L/min. */
function parseOutput(text: string): number {
  const value = /^\d{1,2}([.,]\d{1,3})?$/.test(text) ? Number(text.replace(',', '.')) : Number.NaN;
  if (value >= 0.5 && value <= 20) return value;
  throw new InvalidArgumentError(PRESSURE_EN.outputWrong);
}
function parseLine(text: string): { readonly naturalHz: number; readonly dampingRatio: number } {
  const [naturalHz, dampingRatio] = /^(\d{1,3}(?:\.\d{1,2})?):(\d(?:\.\d{1,3})?)$/.exec(text)?.slice(1).map(Number) ?? [];
  if (naturalHz !== undefined && dampingRatio !== undefined && naturalHz >= 1 && naturalHz <= 200 && dampingRatio >= 0.01 && dampingRatio <= 5) return { naturalHz, dampingRatio };
  throw new InvalidArgumentError(PRESSURE_EN.lineWrong);
}
interface PressureVerbOptions extends SharedOptions {
  readonly channels?: string;
  readonly baseline?: string;
  readonly output?: number;
  readonly line?: { readonly naturalHz: number; readonly dampingRatio: number };
  readonly breathing?: 'spontaneous' | 'ventilated';
}
const addPressure: AddVerb = (program, io, finish) => {
  startVerb(program, 'pressure', PRESSURE_EN.pressureVerb, 'trinadir pressure after-release.csv --channels AO=aortic,LV=ventricular --json')
    .argument('<file>', PRESSURE_EN.fileArgument)
    .option('--channels <map>', PRESSURE_EN.channelsOption)
    .option('--baseline <file>', PRESSURE_EN.baselineOption)
    .option('--output <litres>', PRESSURE_EN.outputOption, parseOutput)
    .option('--line <response>', PRESSURE_EN.lineOption, parseLine)
    .addOption(new Option('--breathing <way>', PRESSURE_EN.breathingOption).choices(['spontaneous', 'ventilated']))
    .action(async (path: string, options: PressureVerbOptions) => {
      const { runPressureCommand } = await import('./pressure-command.ts');
      finish(await runPressureCommand({ path, ...options }, io));
    });
};

/** A:B:STEP as its starts; at most 60 of them. */
function parseSweep(text: string): readonly number[] {
  const [from, to, step] = /^(-?\d{1,2}(?:\.\d{1,3})?):(-?\d{1,2}(?:\.\d{1,3})?):(\d{1,2}(?:\.\d{1,3})?)$/.exec(text)?.slice(1).map(Number) ?? [];
  const count = from !== undefined && to !== undefined && step !== undefined && step > 0 && to > from ? Math.floor((to - from) / step + 1e-9) + 1 : 0;
  if (count < 2 || count > 60) throw new InvalidArgumentError(RELEASE_EN.sweepWrong);
  return Array.from({ length: count }, (_, i) => Math.round((from! + i * step!) * 1000) / 1000);
}

interface ForecastVerbOptions {
  readonly start?: number;
  readonly sweep?: readonly number[];
  readonly pace?: number;
  readonly predilated?: boolean;
  readonly tension?: Tension;
  readonly device?: string;
  readonly size?: string;
  readonly releases?: number;
  readonly seed?: number;
}
const addForecast: AddVerb = (program, io, finish) => {
  startVerb(program, 'forecast', RELEASE_EN.forecastVerb, 'trinadir forecast answer --start 4 --pace 120 --json')
    .argument('<plan>', RELEASE_EN.planArgument)
    .option('--start <mm>', RELEASE_EN.start, parseNumber(-10, 30))
    .option('--sweep <a:b:step>', RELEASE_EN.sweep, parseSweep)
    .option('--pace <bpm>', RELEASE_EN.pace, parseNumber(30, 260))
    .option('--predilated', RELEASE_EN.predilated)
    .addOption(new Option('--tension <state>', RELEASE_EN.tension).choices(['neutral', 'pulling', 'pushing', 'unknown']))
    .option('--device <id>', RELEASE_EN.device)
    .option('--size <label>', RELEASE_EN.size)
    .option('--releases <count>', RELEASE_EN.releases, parseWhole(20, 100_000))
    .option('--seed <number>', RELEASE_EN.seed, parseWhole(0, 0xffffffff))
    .action(async (path: string, options: SharedOptions & ForecastVerbOptions) => {
      const { runForecastCommand } = await import('./forecast-command.ts');
      finish(await runForecastCommand({ path, ...options }, io));
    });
};

const addVerdict: AddVerb = (program, io, finish) => {
  startVerb(program, 'verdict', SITUATION_EN.verb, 'trinadir verdict cases/a-7 --json')
    .argument('<case>', SITUATION_EN.named)
    .option('--rules <file>', SITUATION_EN.rulesOption)
    .option('--data <folder>', SERVER_EN.dataFolder)
    .option('--db <url>', SERVER_EN.dbUrl)
    .action(async (named: string, options: StoreVerbOptions & { readonly rules?: string }) => {
      const { runVerdictCommand } = await import('./verdict-command.ts');
      finish(await runVerdictCommand({ named, rules: options.rules, ...(await findStored(options)) }, io));
    });
};
const addSign: AddVerb = (program, io, finish) => {
  startVerb(program, 'sign', TABLES_EN.signVerb, 'trinadir sign devices.json --by "A. Person"')
    .argument('<file>', TABLES_EN.tableArgument)
    .requiredOption('--by <name>', TABLES_EN.signBy)
    .action(async (path: string, options: SharedOptions & { readonly by: string }) => {
      const { runSignCommand } = await import('./sign-command.ts');
      finish(await runSignCommand({ path, ...options }, io));
    });
};

const addServe: AddVerb = (program, io, finish) => {
  startVerb(program, 'serve', SERVER_EN.serveVerb, 'trinadir serve --data cases')
    .option('--data <folder>', SERVER_EN.dataFolder)
    .option('--db <url>', SERVER_EN.dbUrl)
    .option('--port <number>', SERVER_EN.servePort, parsePort)
    .option('--host <address>', SERVER_EN.serveHost)
    .option('--origin <url>', SERVER_EN.serveOrigin)
    .option('--oidc <file>', SERVER_EN.oidcFile)
    .action(async (options: ServeOptions) => {
      const { runServeCommand } = await import('./serve-command.ts');
      finish(await runServeCommand(options, io));
    });
};

interface StoreVerbOptions extends SharedOptions {
  readonly data?: string;
  readonly db?: string;
}
/** What is stored, where `serve` finds it. */
async function findStored({ data, db, json, quiet }: StoreVerbOptions) {
  const { findDataFolder, findDbUrl } = await import('./serve-command.ts');
  return { dataFolder: findDataFolder(data), dbUrl: findDbUrl(db), json, quiet };
}
const addBackup: AddVerb = (program, io, finish) => {
  startVerb(program, 'backup', STORE_EN.backupVerb, 'trinadir backup cases-monday.tar --data cases')
    .argument('<file>', STORE_EN.backupFile)
    .option('--data <folder>', SERVER_EN.dataFolder)
    .option('--db <url>', SERVER_EN.dbUrl)
    .action(async (file: string, options: StoreVerbOptions) => {
      const { runBackupCommand } = await import('./store-commands.ts');
      finish(await runBackupCommand(file, await findStored(options), io));
    });
};
const addRestore: AddVerb = (program, io, finish) => {
  startVerb(program, 'restore', STORE_EN.restoreVerb, 'trinadir restore cases-monday.tar --data cases-again')
    .argument('<file>', STORE_EN.restoreFile)
    .option('--data <folder>', SERVER_EN.dataFolder)
    .option('--db <url>', SERVER_EN.dbUrl)
    .action(async (file: string, options: StoreVerbOptions) => {
      const { runRestoreCommand } = await import('./store-commands.ts');
      finish(await runRestoreCommand(file, await findStored(options), io));
    });
};
const addAudit: AddVerb = (program, io, finish) => {
  startVerb(program, 'audit', STORE_EN.auditVerb, 'trinadir audit verify --data cases')
    .addArgument(new Argument('<action>', STORE_EN.auditAction).choices(['verify']))
    .argument('[case]', CASE_FILE_EN.auditCase)
    .option('--data <folder>', SERVER_EN.dataFolder)
    .option('--db <url>', SERVER_EN.dbUrl)
    .option('--pixels', STORE_EN.pixelsOption)
    .action(async (_action: string, named: string | undefined, options: StoreVerbOptions & { readonly pixels?: boolean }) => {
      if (named !== undefined && options.pixels) {
        reportFailure(fail('case-without-pixels', CASE_FILE_EN.pixelsUnfit, CASE_FILE_EN.pixelsUnfitNext).failure, 'audit', { json: options.json === true }, io);
        return finish(EXIT.usage);
      }
      if (named !== undefined) {
        const { runCaseAuditCommand } = await import('./case-audit-command.ts');
        return finish(await runCaseAuditCommand({ named, ...(await findStored(options)) }, io));
      }
      const { runAuditVerifyCommand } = await import('./store-commands.ts');
      finish(await runAuditVerifyCommand({ ...(await findStored(options)), pixels: options.pixels }, io));
    });
};

/** The training case is a root and scan like any other: the demo makes it with `phantom` and measures it with `plan`. */
const TRAINING_CASE = 'plain-root';
const DEMO_STEPS: DemoSteps = {
  async makeTrainingCt(ctFolder, options, io) {
    const { runPhantomCommand } = await import('./phantom-command.ts');
    const code = await runPhantomCommand({ out: ctFolder, shape: TRAINING_CASE, ...options }, io);
    if (code !== EXIT.answered) return code;
    const { writeFluoroscopy } = await import('./write-fluoroscopy.ts');
    await writeFluoroscopy(ctFolder, join(dirname(ctFolder), 'fluoroscopy'));
    return code;
  },
  async planCt(ctFolder, planFolder, patientFile, options, io) {
    const { runPlanCommand } = await import('./plan-command.ts');
    return runPlanCommand({ path: ctFolder, out: planFolder, patient: patientFile, ...options }, io);
  },
  async answerResult(places, options, io) {
    const { answerResult } = await import('./answer-result.ts');
    return answerResult(places, options, io);
  },
  async openDesk(options, io) {
    const { openDemoDesk } = await import('./demo-desk.ts');
    return openDemoDesk(options, io);
  },
  exitOf: exitOfDesk,
};
const addDemo: AddVerb = (program, io, finish) => {
  startVerb(program, 'demo', HOUSE_EN.demoVerb, 'trinadir demo --once --out training')
    .option('--out <folder>', HOUSE_EN.demoOut)
    .option('--port <number>', HOUSE_EN.demoPort, parsePort)
    .option('--once', HOUSE_EN.demoOnce)
    .option('--replace', HOUSE_EN.replace)
    .action(async (options: DemoOptions) => {
      const { runDemoCommand } = await import('./demo-command.ts');
      finish(await runDemoCommand(options, io, DEMO_STEPS));
    });
};

/**
 * The verbs, in the order of the help. The module of each is loaded when it is used, so that --help and refusals of
 * wrong usage are quick.
 */
export const VERBS: readonly AddVerb[] = [addDemo, addScan, addPlan, addPhantom, addForecast, addView, addDepth, addPressure, addContrastVerb, addVerdict, addSign, addCaseVerbs, addExportVerb, addServe, addBackup, addRestore, addAudit];
