import { MOST_LIVE_BYTES } from '../../formats/api/result-schemas.ts';

/** Speeds of serial lines that recorders have, per second; the first is the usual one. */
export const LINE_RATES = [115200, 57600, 38400, 19200, 9600, 230400, 460800, 921600] as const;
/** Lines are gathered for this long: a beat is told soon, and the server is not asked for each sample. */
const GATHER_MS = 200;

export interface SerialSource {
  follow(tell: (text: string) => void): void;
  stop(): void;
}
/** What of the browser's serial line is used here. */
interface Port {
  readonly readable: ReadableStream<Uint8Array<ArrayBuffer>> | null;
  open(options: { readonly baudRate: number }): Promise<void>;
  close(): Promise<void>;
}

/** A serial line that the person chooses in the browser's own dialogue; null: none was chosen, or it does not open. */
export async function openSerial(baudRate: number): Promise<SerialSource | null> {
  const { serial } = navigator as unknown as { readonly serial?: { requestPort(): Promise<Port> } };
  if (!serial) return null;
  try {
    const port = await serial.requestPort();
    await port.open({ baudRate });
    return followPort(port);
  } catch {
    return null;
  }
}

function followPort(port: Port): SerialSource {
  const reader = port.readable?.pipeThrough(new TextDecoderStream()).getReader();
  let gathered = '';
  let isOver = false;
  return {
    follow(tell) {
      const timer = setInterval(() => {
        if (gathered !== '') tell(gathered);
        gathered = '';
      }, GATHER_MS);
      void (async () => {
        try {
          for (let read = await reader?.read(); read && !read.done && !isOver; read = await reader?.read()) gathered += read.value;
        } catch {
          // The line was pulled out: what had come is sent, and the age of the last beat says the rest.
        }
        clearInterval(timer);
        if (gathered !== '') tell(gathered);
      })();
    },
    stop() {
      isOver = true;
      void reader?.cancel().then(() => port.close()).catch(() => undefined);
    },
  };
}

/** Parts below the server's bound for a body, cut after a line where there is one. */
export function cutText(text: string, mostBytes: number = MOST_LIVE_BYTES / 4): readonly string[] {
  const parts: string[] = [];
  let rest = text;
  // A sign of UTF-16 is three bytes of UTF-8 at most: a quarter of the bound is below it in any script.
  while (rest.length > mostBytes) {
    const at = rest.lastIndexOf('\n', mostBytes - 1) + 1 || mostBytes;
    parts.push(rest.slice(0, at));
    rest = rest.slice(at);
  }
  return rest === '' ? parts : [...parts, rest];
}
