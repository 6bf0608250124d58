import { describe, expect, test } from 'vitest';
import type { NewCaseEvent } from './case-events.ts';
import { findClashes } from './event-subject.ts';

const entry = (field: string, value: string | number): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value, unit: null } });
const mark = (name: 'nadir.R' | 'ostium.left'): NewCaseEvent => ({ kind: 'mark.moved', data: { mark: name, lps: [0, 0, 1], was: null } });
const PLAN: NewCaseEvent = { kind: 'plan.made', data: { planSha256: 'p', surveySha256: null, basedOnSeq: 1 } };

describe('two edits of one case', () => {
  test('about different entries stand side by side; about one entry they clash', () => {
    expect(findClashes([entry('body.heightCm', 170)], [entry('body.weightKg', 70)])).toEqual([]);
    expect(findClashes([entry('body.heightCm', 170)], [entry('body.heightCm', 180)])).toEqual(['referral body.heightCm']);
  });
  test('all marks are one thing: a moved nadir moves the plane under an ostium, a ring and a consensus', () => {
    expect(findClashes([mark('ostium.left')], [mark('nadir.R')])).toEqual(['marks']);
    expect(findClashes([mark('nadir.R')], [{ kind: 'ring.drawn', data: { contourLps: null } }])).toEqual(['marks']);
    expect(findClashes([mark('nadir.R')], [{ kind: 'series.chosen', data: { scanId: 's', seriesUid: '1' } }])).toEqual(['marks']);
  });
  test('a plan that was made meanwhile overwrites nothing a person did, nor does an entry clash with a mark', () => {
    expect(findClashes([mark('nadir.R'), entry('body.heightCm', 170)], [PLAN])).toEqual([]);
    expect(findClashes([entry('body.heightCm', 170)], [mark('nadir.R')])).toEqual([]);
  });
  test('each thing is named once, and only what both touched', () => {
    expect(findClashes([mark('nadir.R'), mark('ostium.left'), entry('identity.sex', 'F')], [mark('nadir.R'), entry('identity.name', 'X')])).toEqual(['marks']);
  });
});
