/** Where a command writes: answers to `out` (standard output), progress and messages to `err` (standard error). */
export interface CommandIo {
  out(text: string): void;
  err(text: string): void;
  /** True when standard error is a terminal, so that a progress bar may be drawn. */
  readonly isTerminal: boolean;
}
