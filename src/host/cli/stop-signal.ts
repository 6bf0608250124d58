import { abandonAllOutFolders } from './write-whole.ts';

/**
 * What Ctrl-C does: normally the program takes back what it had begun to write and ends with 130 (143 for TERM).
 * A verb that serves pages hands in its own quiet end instead.
 */
let ownEnd: (() => void) | null = null;

export function setOwnEnd(end: (() => void) | null): void {
  ownEnd = end;
}

export function listenForStop(): void {
  for (const [signal, code] of [['SIGINT', 130], ['SIGTERM', 143]] as const) {
    process.on(signal, () => {
      const end = ownEnd;
      ownEnd = null; // a second signal ends at once
      if (end) return end();
      abandonAllOutFolders();
      process.exit(code);
    });
  }
}
