import { describe, expect, test } from 'vitest';
import { describeEntry } from './describe-entry.ts';
import type { RoomEntry } from './room-types.ts';

const VIEW = { primaryDeg: -19.4, secondaryDeg: -26 };
const VERDICT: RoomEntry = { is: 'verdict', answerSha256: 'ab'.repeat(32), word: 'AGREE', side: 'below', witnesses: [{ kind: 'pressure', low: 0, high: 1.5 }, { kind: 'echo', low: 1, high: 1 }, { kind: 'angiogram', low: null, high: null }], remedies: [], waitUntil: null, next: '' };
const LINES: readonly (readonly [RoomEntry, string])[] = [
  [{ is: 'phase', phase: 'valve-in' }, 'Step: Valve in'],
  [{ is: 'pacing', isOn: true, ratePerMin: 120 }, 'Pacing on, 120/min'],
  [{ is: 'pacing', isOn: true, ratePerMin: null }, 'Pacing on'],
  [{ is: 'pacing', isOn: false, ratePerMin: null }, 'Pacing off'],
  [{ is: 'view', view: VIEW }, 'View RAO 19 CAU 26'],
  [{ is: 'depth', reading: { depthMm: 3.04, lowMm: 1, highMm: 5, state: 'uncorrected', by: 'entered', views: [VIEW], cusp: 'N', edge: 'inflow', clicks: 0, unsheathedRatio: null } }, 'Depth 3 mm, 1 to 5, RAO 19 CAU 26'],
  [{ is: 'fraction', ratio: 0.667 }, 'Share of the frame out: 0.67'],
  [{ is: 'fraction', ratio: null }, 'Share of the frame out: not read'],
  [{ is: 'hold', hold: 'B', answer: 'recapture', who: 'first operator' }, 'Hold B: Take back, first operator'],
  [{ is: 'moved', direction: 'up', mm: 3 }, 'Moved up, 3 mm'],
  [{ is: 'moved', direction: 'unknown', mm: null }, 'Moved, direction not read'],
  [{ is: 'recaptured', isWhole: true }, 'Taken back, whole'],
  [{ is: 'valve-out', inspected: true, replaced: true }, 'Valve out, inspected, replaced by another'],
  [{ is: 'kit', item: 'drain', isReady: false }, 'NOT ready: set for a pericardial drain'],
  [{ is: 'wire', did: 'moved', side: 'outer curve' }, 'Wire moved, outer curve'],
  [{ is: 'tension', tension: 'pushing' }, 'Tension: pushing'],
  [{ is: 'dilated', balloonMm: 22, when: 'before' }, 'Pre-dilated, balloon 22 mm'],
  [{ is: 'heparin', units: 5000 }, 'Heparin 5000 units'],
  [{ is: 'act', seconds: 251 }, 'Clotting time 251 s'],
  [{ is: 'contrast', ml: 12.5 }, 'Contrast 12.5 mL'],
  [{ is: 'radiation', airKermaMGy: 410, doseAreaGyCm2: null, fluoroscopyMin: 9.3 }, 'Radiation: air kerma 410 mGy, fluoroscopy 9.3 min'],
  [{ is: 'pressure', systolicMmHg: 120, diastolicMmHg: 60, endDiastolicMmHg: 14, heartRatePerMin: null }, 'Pressure 120/60, end-diastolic 14'],
  [{ is: 'rescue', card: 'tamponade', did: 'ticked', line: 0 }, 'Tamponade: line 1 done'],
  [{ is: 'causes', closedAs: ['taper', 'calcium'], because: 'map', who: 'the team' }, 'Causes closed as: taper, calcium, the team'],
  [{ is: 'causes', closedAs: [], because: '', who: 'the team' }, 'Causes closed as: none that fits, the team'],
  [{ is: 'clock', name: 'recorder', aheadS: -37 }, 'Clock of recorder: 37 s behind'],
  [{ is: 'show', card: null }, 'Wall shows: card of the step'],
  [{ is: 'screen', wall: 'A1', barMm: 400 }, 'Wall A1: bar 400 mm'],
  [{ is: 'show', card: 'remedies' }, 'Wall shows: remedies'],
  [VERDICT, 'Verdict put on the wall: AGREE, below the line; pressures 0 to 1.5, echo 1, angiogram may not speak'],
  [{ ...VERDICT, word: 'CANNOT SAY', side: null, witnesses: [] }, 'Verdict put on the wall: CANNOT SAY; pressures missing, echo missing, angiogram missing'],
  [{ is: 'note', text: 'C-arm moved' }, 'Note: C-arm moved'],
];

describe('describeEntry', () => {
  test.each(LINES)('says %j in words', (entry, line) => {
    expect(describeEntry(entry, (id) => id[0]!.toUpperCase() + id.slice(1))).toBe(line);
  });
  test('never shows a percentage', () => {
    for (const [entry] of LINES) expect(describeEntry(entry)).not.toContain('%');
  });
});
