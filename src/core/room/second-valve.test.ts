import { describe, expect, test } from 'vitest';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import { depthEntry, makeRoom } from '../../../test/support/room-log.ts';
import type { ReleaseForecast, WhatIfCode, WhatIfWorld } from '../release/release-types.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { listBailOut } from './list-bail-out.ts';
import { listChanges, listStarts } from './list-changes.ts';
import { DEFAULT_RESCUE_CARDS } from './rescue-cards.ts';
import { listSecondValves } from './second-valve.ts';

const { document: FROZEN } = makeFrozenFixture();
const TODAY = '2026-03-02';
const withHuddle = (change: Readonly<Record<string, string | number | boolean>>, leave: readonly string[] = []): FrozenDocument => ({
  ...FROZEN, huddle: Object.fromEntries(Object.entries({ ...FROZEN.huddle, ...change }).filter(([field]) => !leave.includes(field))),
});
const states = (frozen: FrozenDocument, room = makeRoom(), today = TODAY): Readonly<Record<string, string>> =>
  Object.fromEntries(listSecondValves(frozen, room, today).valves.map((v) => [v.slot, v.state]));

describe('listSecondValves', () => {
  test('D42: offers the same size and its neighbours in the table with place and date, and nothing else', () => {
    const card = listSecondValves(FROZEN, makeRoom(), TODAY);
    expect(card.state).toBe('ready');
    expect(card.valves.map((v) => [v.slot, v.valve?.size, v.place, v.expires])).toEqual([
      ['spare', '27', 'shelf spare', '2030-01-31'], ['smaller', '24', 'shelf smaller', '2030-01-31'], ['larger', '30', 'shelf larger', '2030-01-31'],
    ]);
  });
  test('the last day of use is in date, the day after is not and is not offered', () => {
    expect(states(FROZEN, makeRoom(), '2030-01-31')).toEqual({ spare: 'offered', smaller: 'offered', larger: 'offered' });
    expect(listSecondValves(FROZEN, makeRoom(), '2030-02-01')).toMatchObject({ state: 'none', valves: [{ state: 'expired' }, { state: 'expired' }, { state: 'expired' }] });
  });
  test('a box without a date, a place or preparation is named and not offered', () => {
    expect(states(withHuddle({ 'kit.larger.ready': false }, ['kit.spare.expires', 'kit.smaller.place']))).toEqual({ spare: 'no date', smaller: 'no place', larger: 'not prepared' });
    expect(states(withHuddle({}, ['kit.spare.ready'])).spare).toBe('not prepared');
  });
  test('the room’s own word on a box wins, both ways, but not over its date', () => {
    expect(states(FROZEN, makeRoom({ is: 'kit', item: 'spare', isReady: false })).spare).toBe('not to hand');
    const found = makeRoom({ is: 'kit', item: 'spare', isReady: true });
    expect(states(withHuddle({ 'kit.spare.ready': false }), found).spare).toBe('offered');
    expect(states(FROZEN, found, '2030-02-01').spare).toBe('expired');
  });
  test('the smallest and largest size of the table have one neighbour; a size that is not in it has none', () => {
    expect(Object.keys(states({ ...FROZEN, choice: { ...FROZEN.choice, size: '24' } }))).toEqual(['spare', 'larger']);
    expect(listSecondValves({ ...FROZEN, choice: { ...FROZEN.choice, size: 'none' } }, makeRoom(), TODAY)).toEqual({ state: 'none', valves: [] });
  });
});

describe('listBailOut', () => {
  const line = (frozen: FrozenDocument, id: string, room = makeRoom()) => listBailOut(frozen, room, TODAY).find((l) => l.id === id);
  test('names the team’s own people, places and numbers', () => {
    expect(line(FROZEN, 'decides')?.text).toBe('Colleague One');
    expect(line(FROZEN, 'moved-up')?.text).toBe('Colleague One: snare, lies at shelf snare');
    expect(line(FROZEN, 'surgery')?.text).toBe('agreed; Colleague Five');
    expect(line(FROZEN, 'kit-snare')?.text).toBe('in date, lies at shelf snare');
    expect(line(FROZEN, 'balloon-most')?.text).toBe(`${FROZEN.device.sizes.find((s) => s.label === '27')!.balloonMaxMm} mm`);
    expect(line(FROZEN, 'access')?.text).toMatch(/right/i);
    expect(line(FROZEN, 'pacing')?.text).toContain('the wire in the ventricle');
    expect(line(FROZEN, 'wait')).toMatchObject({ text: '10 min', isUnverified: true });
  });
  test('what nobody agreed on is null, never filled in; a tool that is gone says so', () => {
    const bare: FrozenDocument = { ...FROZEN, huddle: {}, branches: {}, limits: { ...FROZEN.limits, expansionWaitS: null } };
    for (const id of ['decides', 'moved-up', 'moved-down', 'leaks', 'stop', 'surgery', 'access', 'pacing']) expect(line(bare, id)?.text, id).toBeNull();
    expect(line(bare, 'kit-snare')?.text).toBe('not prepared at the huddle');
    expect(line(bare, 'wait')).toBeUndefined();
    expect(line(FROZEN, 'kit-snare', makeRoom({ is: 'kit', item: 'snare', isReady: false }))?.text).toBe('the room said that it is not to hand');
  });
  test('no line holds an open hole of its sentence', () => {
    for (const frozen of [FROZEN, withHuddle({ 'access.sheathMm': 6.2, 'access.second': 'radial', 'pacing.by': 'Colleague Six' })]) {
      for (const l of listBailOut(frozen, makeRoom(), TODAY)) expect(`${l.label} ${l.text}`).not.toMatch(/[{}]|undefined|NaN/);
    }
  });
});

describe('listChanges', () => {
  const world = (isVisible: boolean): WhatIfWorld => ({ answer: 'stays', movementMm: { low: 0, mid: 0, high: 0 }, changeMm: { low: 0, mid: 1, high: 2 }, marginChangeN: 0, isVisible });
  const answer = (code: WhatIfCode) => ({ code, worlds: { gripping: world(true), middle: world(false), slippery: world(false) } });
  const withWhatIfs = (...codes: readonly WhatIfCode[]): FrozenDocument => ({ ...FROZEN, plan: { ...FROZEN.plan, release: { ...FROZEN.plan.release!, whatIfs: codes.map((c) => answer(c)) } satisfies ReleaseForecast } });
  test('lists what the room can change, in its own order whatever the plan’s, and leaves out what no room can', () => {
    const codes = listChanges(withWhatIfs('size-larger', 'annulus-wider', 'pace-180', 'start-deeper', 'start-shallower'), makeRoom()).changes.map((c) => c.code);
    expect(codes).toEqual(['start-shallower', 'start-deeper', 'pace-180', 'size-larger']);
  });
  test('a start that was read elsewhere than planned is told, one on its place is not', () => {
    const planned = FROZEN.plan.release!.startMm;
    expect(listChanges(FROZEN, makeRoom(depthEntry(planned + 0.3))).otherStartMm).toBeNull();
    expect(listChanges(FROZEN, makeRoom(depthEntry(planned + 2)))).toMatchObject({ plannedStartMm: planned, otherStartMm: planned + 2 });
  });
  test('forecasts of the starts about the one read, shallow to deep, with the planned and the read one named', () => {
    const starts = FROZEN.plan.release!.sweep.map((s) => s.startMm);
    const of = (...read: readonly number[]) => listStarts(FROZEN, makeRoom(...read.map((mm) => depthEntry(mm))));
    const seen = of(6.8);
    expect(seen.map((l) => l.forecast.startMm)).toEqual(starts.filter((mm) => Math.abs(mm - 6.8) <= 3 || mm === FROZEN.choice.startMm));
    expect(seen.filter((l) => l.isRead).map((l) => l.forecast.startMm)).toEqual([7]);
    expect(seen.filter((l) => l.isPlanned).map((l) => l.forecast.startMm)).toEqual([FROZEN.choice.startMm]);
    expect(of().some((l) => l.isRead)).toBe(false);
    const { release: _none, ...plan } = FROZEN.plan;
    expect(listStarts({ ...FROZEN, plan }, makeRoom())).toEqual([]);
  });
  test('a plan without what-ifs gives none', () => {
    const { whatIfs: _none, ...release } = FROZEN.plan.release!;
    expect(listChanges({ ...FROZEN, plan: { ...FROZEN.plan, release } }, makeRoom()).changes).toEqual([]);
  });
});

describe('the default rescue cards', () => {
  test('are the seven of the room, one short action a line, and name no dose', () => {
    expect(DEFAULT_RESCUE_CARDS.cards.map((c) => c.id)).toEqual(['loss-of-output', 'tamponade', 'coronary-obstruction', 'annulus-rupture', 'valve-embolised', 'vascular-bleed', 'complete-block']);
    expect(DEFAULT_RESCUE_CARDS).toMatchObject({ isDefault: true, signedBy: '' });
    for (const { lines, title } of DEFAULT_RESCUE_CARDS.cards) {
      expect(lines.length, title).toBeLessThanOrEqual(10);
      for (const text of lines) {
        expect(text).not.toMatch(/\b\d+(\.\d+)?\s*(mg|µg|ug|mcg|ml|units?|IU|J)\b/i);
        expect(text.length, text).toBeLessThanOrEqual(80);
        expect(text).not.toMatch(/[;\n]|and then/);
      }
    }
  });
});
