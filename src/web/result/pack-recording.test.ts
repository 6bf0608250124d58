import { unzipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { packRecording, readEnding } from './pack-recording.ts';

const part = (name: string, text: string) => ({ name, bytes: new TextEncoder().encode(text) });
describe('files of a recording as one body', () => {
  test('one file goes as it is, with its ending alone', () => {
    expect(packRecording([part('Doe Jane 1944.CSV', 'time,AO')])).toEqual({ bytes: new TextEncoder().encode('time,AO'), ending: 'csv' });
    expect(['a.dcm', 'a.EDF', 'none', 'strange.näm', 'a.verylongend', '.hea'].map(readEnding)).toEqual(['dcm', 'edf', 'bin', 'bin', 'bin', 'hea']);
  });
  test('a WFDB header with its signals becomes a ZIP that holds them under their names; the same files give the same bytes', () => {
    const files = [part('r1.hea', 'r1 2 250'), part('r1.dat', 'samples')];
    const packed = packRecording(files)!;
    expect(packed.ending).toBe('zip');
    expect(Object.entries(unzipSync(packed.bytes)).map(([name, bytes]) => [name, new TextDecoder().decode(bytes)])).toEqual([['r1.hea', 'r1 2 250'], ['r1.dat', 'samples']]);
    expect(packRecording(files)!.bytes).toEqual(packed.bytes);
  });
  test('a header alone is still a record in an archive, which the server refuses by name; nothing is nothing', () => {
    expect(packRecording([part('r1.hea', 'r1 2 250')])!.ending).toBe('zip');
    expect(packRecording([])).toBeNull();
  });
});
