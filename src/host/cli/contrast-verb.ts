import { InvalidArgumentError, type Command } from 'commander';
import { CONTRAST_EN } from '../../core/text/contrast-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import type { CommandIo } from './command-io.ts';
import type { ContrastOptions } from './contrast-command.ts';
import { parseFrameRange, parseSaid } from './contrast-said.ts';

function parseWithin(low: number, high: number, wrong: string): (text: string) => number {
  return (text) => {
    const value = /^\d{1,3}(\.\d{1,3})?$/.test(text) ? Number(text) : Number.NaN;
    if (value >= low && value <= high) return value;
    throw new InvalidArgumentError(wrong);
  };
}
function orWrong<T>(parse: (text: string) => T | null, wrong: string): (text: string) => T {
  return (text) => {
    const value = parse(text);
    if (value === null) throw new InvalidArgumentError(wrong);
    return value;
  };
}

/** `trinadir contrast`. */
export function addContrastVerb(program: Command, io: CommandIo, finish: (exitCode: number) => void): void {
  program
    .command('contrast')
    .description(CONTRAST_EN.contrastVerb)
    .option('--quiet', HOUSE_EN.quiet)
    .option('--json', HOUSE_EN.json)
    .addHelpText('after', `\n${HOUSE_EN.example}\n  trinadir contrast aortogram.dcm --rate 72 --said breath-held,table-still,no-overlap,in-view`)
    .argument('<file>', CONTRAST_EN.fileArgument)
    .option('--regions <file>', CONTRAST_EN.regionsOption)
    .option('--frames <a-b>', CONTRAST_EN.framesOption, orWrong(parseFrameRange, CONTRAST_EN.framesWrong))
    .option('--rate <bpm>', CONTRAST_EN.rateOption, parseWithin(25, 240, CONTRAST_EN.rateWrong))
    .option('--fps <rate>', CONTRAST_EN.fpsOption, parseWithin(1, 120, CONTRAST_EN.fpsWrong))
    .option('--said <words>', CONTRAST_EN.saidOption, orWrong(parseSaid, CONTRAST_EN.saidWrong))
    .action(async (path: string, options: Omit<ContrastOptions, 'path'>) => {
      const { runContrastCommand } = await import('./contrast-command.ts');
      finish(await runContrastCommand({ path, ...options }, io));
    });
}
