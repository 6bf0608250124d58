import type { RecordingMark } from '../../core/haemodynamics/recording-types.ts';
import { MOST_MARKS } from './waveform-types.ts';

/** Letters of the annotation codes 0 to 49; '' where none is defined. Source: ecgcodes.h of the WFDB library [M]. */
const CODES = [
  '', 'N', 'L', 'R', 'a', 'V', 'F', 'J', 'A', 'S', 'E', 'j', '/', 'Q', '~', '', '|', '', 's', 'T', '*', 'D', '"', '=', 'p', 'B', '^', 't', '+', 'u',
  '?', '!', '[', ']', 'e', 'n', '@', 'x', 'f', '(', ')', 'r',
];
const [SKIP, NUM, SUB, CHN, AUX, NOTE] = [59, 60, 61, 62, 63, 22];

export interface WfdbAnnotations {
  readonly marks: readonly RecordingMark[];
  /** The file ends inside an entry, or without its end mark. */
  readonly isCut: boolean;
}

/**
 * Annotation file in the MIT form (.atr and others): two bytes an entry, code in the upper 6 bits, step in the lower 10.
 * Remarks are free text and are not taken; only the file's own time resolution is read from them.
 *
 * Units     s, at `framesPerS` unless the file states a resolution
 * Source    annot(5) of the WFDB Applications Guide, https://physionet.org/physiotools/wag/annot-5.htm [M]
 */
export function parseWfdbAnnotations(bytes: Uint8Array, framesPerS: number): WfdbAnnotations {
  const marks: RecordingMark[] = [];
  let [time, rate, isCut] = [0, framesPerS, true];
  for (let at = 0; at + 1 < bytes.length && marks.length < MOST_MARKS; ) {
    const word = bytes[at]! | (bytes[at + 1]! << 8);
    const [code, step] = [word >> 10, word & 1023];
    at += 2;
    if (word === 0) {
      isCut = false;
      break;
    }
    if (code === SKIP) {
      if (at + 4 > bytes.length) break;
      // A PDP-11 long: the upper half comes first, each half little endian.
      time += ((bytes[at]! | (bytes[at + 1]! << 8)) << 16) | bytes[at + 2]! | (bytes[at + 3]! << 8);
      at += 4;
    } else if (code === AUX) {
      const stated = time === 0 && step <= 64 ? /^## time resolution: (\d+(?:\.\d+)?)/.exec(readAscii(bytes, at, step)) : null;
      if (stated && Number(stated[1]) > 0) rate = Number(stated[1]);
      at += step + (step & 1);
    } else if (code !== NUM && code !== SUB && code !== CHN) {
      time += step;
      const letter = CODES[code] ?? '';
      if (code !== NOTE && code !== 0) marks.push({ atS: time / rate, code: letter === '' ? String(code) : letter });
    }
  }
  return { marks, isCut };
}

function readAscii(bytes: Uint8Array, at: number, length: number): string {
  let text = '';
  for (let i = at; i < Math.min(at + length, bytes.length); i++) text += String.fromCharCode(bytes[i]!);
  return text;
}
