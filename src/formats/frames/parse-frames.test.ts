import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { parseFrames } from './parse-frames.ts';

/** As the contract prints it. */
const FRAME = {
  primaryDeg: -12, secondaryDeg: -25, sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.308,
  marks: { cuspN: [300.5, 400], frameInflow: [[310, 420], [410, 422]], frameAxis: [[360, 400], [358, 250]] }, clickSdPx: 4.8,
};
const parse = (frames: unknown, more: object = {}) => parseFrames(JSON.stringify({ ...more, frames }));
const codeOf = (frames: unknown, more: object = {}): string => {
  const read = parse(frames, more);
  return read.ok ? 'read' : read.failure.code;
};
const without = (key: keyof typeof FRAME): object => Object.fromEntries(Object.entries(FRAME).filter(([k]) => k !== key));

describe('frames.json', () => {
  it('reads the form of the contract', () => {
    const read = parse([FRAME]);
    expect(read.ok && read.value[0]).toEqual({
      view: { primaryDeg: -12, secondaryDeg: -25 }, sizePx: null, clickSdPx: 4.8,
      calibration: { by: 'geometry', sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.308, pixelAt: 'detector' },
      marks: { cuspN: [[300.5, 400]], frameInflow: [[[310, 420]], [[410, 422]]], frameAxis: [[[360, 400]], [[358, 250]]] },
    });
  });
  it('reads repeated clicks, the other cusps, the size of the picture and a known length', () => {
    const marks = { ...FRAME.marks, cuspN: [[300, 400], [301, 399]], cuspR: [350, 380], frameInflow: [[[310, 420], [311, 421]], [410, 422]], knownSize: [[10, 10], [10, 40]] };
    const read = parse([{ ...FRAME, marks, columns: 512, rows: 512, knownSizeMm: 6 }], { format: 'trinadir.frames/1' });
    if (!read.ok) throw new Error(read.failure.code);
    const frame = read.value[0]!;
    expect(frame.marks.cuspN).toHaveLength(2);
    expect(frame.marks.cuspR).toEqual([[350, 380]]);
    expect(frame.marks.frameInflow[0]).toHaveLength(2);
    expect(frame.sizePx).toEqual({ columns: 512, rows: 512 });
    expect(frame.calibration).toMatchObject({ by: 'known-size', sizeMm: 6, ends: [[[10, 10]], [[10, 40]]] });
  });
  it('the axis and the click noise may be absent', () => {
    const read = parse([{ ...without('clickSdPx'), marks: { cuspN: [1, 2], frameInflow: [[1, 2], [30, 4]] } }]);
    expect(read.ok && read.value[0]!.marks.frameAxis).toBeNull();
    expect(read.ok && read.value[0]!.clickSdPx).toBeNull();
  });
  it.each<[string, unknown]>([
    ['frame-angles-missing', without('primaryDeg')],
    ['frame-angles-missing', { ...FRAME, secondaryDeg: '12' }],
    ['frame-angles-missing', { ...FRAME, secondaryDeg: null }],
    ['view-out-of-range', { ...FRAME, primaryDeg: 200 }],
    ['frame-uncalibrated', without('pixelMm')],
    ['frame-uncalibrated', without('sourceToImageMm')],
    ['frame-uncalibrated', { ...FRAME, sourceToPatientMm: 0 }],
    ['frame-uncalibrated', { ...FRAME, pixelAt: 'patient' }],
    ['frame-uncalibrated', { ...FRAME, knownSizeMm: 6 }],
    ['cusp-n-missing', without('marks')],
    ['cusp-n-missing', { ...FRAME, marks: { ...FRAME.marks, cuspN: [] } }],
    ['inflow-missing', { ...FRAME, marks: { cuspN: [1, 2] } }],
    ['inflow-missing', { ...FRAME, marks: { cuspN: [1, 2], frameInflow: [[1, 2]] } }],
    ['mark-invalid', { ...FRAME, marks: { ...FRAME.marks, cuspN: [1, 2, 3] } }],
    ['mark-invalid', { ...FRAME, marks: { ...FRAME.marks, cuspN: 'here' } }],
    ['mark-not-finite', { ...FRAME, marks: { ...FRAME.marks, cuspN: [null, 3] } }],
    ['click-noise-invalid', { ...FRAME, clickSdPx: -1 }],
    ['frames-invalid', { ...FRAME, columns: 512 }],
    ['frames-invalid', 7],
  ])('refuses with %s and the number of the frame', (code, frame) => {
    const read = parse([FRAME, frame]);
    expect(read.ok).toBe(false);
    if (read.ok) return;
    expect(read.failure.code).toBe(code);
    expect(read.failure.evidence['frame']).toBe(2);
    expect(read.failure.nextStep.length).toBeGreaterThan(10);
  });
  it('refuses another format, no list, an empty list, too many frames, no JSON, NaN', () => {
    expect(codeOf([FRAME], { format: 'other/2' })).toBe('frames-other-format');
    expect(codeOf('none')).toBe('frames-other-format');
    expect(codeOf([])).toBe('frames-missing');
    expect(codeOf(Array.from({ length: 13 }, () => FRAME))).toBe('frames-too-many');
    const code = (text: string): string => {
      const read = parseFrames(text);
      return read.ok ? 'read' : read.failure.code;
    };
    expect(code('{')).toBe('frames-not-json');
    expect(code('[]')).toBe('frames-other-format');
    expect(code(JSON.stringify({ frames: [FRAME] }).replace('300.5', 'NaN'))).toBe('mark-not-finite');
    expect(code(JSON.stringify({ frames: [FRAME] }).replace('300.5', '1e999'))).toBe('mark-not-finite');
  });
  it(`never throws, whatever is in the file (seed ${seed})`, () => {
    fc.assert(fc.property(fc.jsonValue(), fc.constantFrom(...Object.keys(FRAME)), (value, key) => {
      parse(value);
      parse([value]);
      parse([{ ...FRAME, [key]: value }]);
      parse([{ ...FRAME, marks: { ...FRAME.marks, cuspN: value, frameAxis: value } }]);
    }), replay);
  });
});
