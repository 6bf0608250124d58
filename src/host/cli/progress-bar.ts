import type { CommandIo } from './command-io.ts';

const CELLS = 24;
const LABEL_WIDTH = 45; // bar, percent and label stay inside 80 columns

/** Progress of one command. Call `end` on every way out, so that no bar is left on the terminal. */
export interface Progress {
  /** Starts a step: on a terminal the bar's label, otherwise one plain line. */
  step(label: string): void;
  /** Share of the current step that is done, 0 to 1. Drawn on a terminal only. */
  report(doneRatio: number): void;
  end(): void;
}

/** A bar on a terminal, one plain line per step otherwise, nothing at all when quiet. */
export function makeProgressBar(io: CommandIo, options: { readonly quiet: boolean }): Progress {
  if (options.quiet) return { step: () => {}, report: () => {}, end: () => {} };
  if (!io.isTerminal) return { step: (label) => io.err(`${label}\n`), report: () => {}, end: () => {} };
  let current = '';
  let shown = '';
  const draw = (doneRatio: number): void => {
    const ratio = doneRatio > 0 ? Math.min(1, doneRatio) : 0; // NaN draws an empty bar
    const cells = Math.round(ratio * CELLS);
    const percent = String(Math.floor(ratio * 100)).padStart(3);
    const line = `[${'='.repeat(cells)}${' '.repeat(CELLS - cells)}] ${percent} %  ${current}`;
    if (line === shown) return;
    shown = line;
    io.err(`\r\u001b[K${line}`);
  };
  return {
    step(label) {
      current = label.slice(0, LABEL_WIDTH);
      draw(0);
    },
    report: draw,
    end() {
      if (shown !== '') io.err('\r\u001b[K');
      shown = '';
    },
  };
}
