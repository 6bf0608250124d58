import { describe, expect, test } from 'vitest';
import { makeWhatIfDesk, type WhatIfAsk } from './what-if-desk.ts';
import type { WorkerPool } from './worker-pool.ts';

const ask = (startMm: number): WhatIfAsk => ({ planSha256: 'p', planText: '{}', stamp: { by: 'test', at: '' }, choice: { device: 'd', size: 's', startMm, paceBpm: 80, isPredilated: false, tension: 'neutral', wireBiasMm: 0 } });

/** A pool whose answers are given by hand, in the order of the questions. */
function makeStand() {
  const open: { readonly startMm: number; give(): void; break(): void }[] = [];
  let idle = 0;
  let pools = 0;
  let closed = 0;
  const makePool = (): WorkerPool => {
    pools++;
    return {
      run: (name: string, input: WhatIfAsk) => name === 'refine-what-ifs' ? (idle++, Promise.resolve({ ok: true, value: { isMoreToDo: idle < 3 } })) : new Promise((resolve, reject) => {
        open.push({ startMm: input.choice.startMm, give: () => resolve({ ok: true, value: input.choice.startMm }), break: () => reject(new Error('lost')) });
      }),
      close: async () => void closed++,
    } as unknown as WorkerPool;
  };
  const next = async () => {
    while (open.length === 0) await new Promise((resolve) => setTimeout(resolve, 1));
    return open.shift()!;
  };
  return { makePool, next, count: () => ({ idle, pools, closed }) };
}
const valueOf = (a: unknown): unknown => (a as { value: unknown } | null)?.value ?? null;

describe('the desk of what-ifs', () => {
  test('a newer question of the same asker replaces the one that waits, never that of another', async () => {
    const stand = makeStand();
    const desk = makeWhatIfDesk(stand.makePool);
    const answers = Promise.all([desk.answer('anna', ask(1)), desk.answer('anna', ask(2)), desk.answer('ben', ask(9)), desk.answer('anna', ask(3))].map((a) => a.then(valueOf)));
    for (let k = 0; k < 3; k++) (await stand.next()).give();
    expect(await answers).toEqual([1, null, 9, 3]);
    await desk.close();
  });
  test('while nobody asks it draws on, and stops when there is nothing left', async () => {
    const stand = makeStand();
    const desk = makeWhatIfDesk(stand.makePool);
    const first = desk.answer('anna', ask(1));
    (await stand.next()).give();
    await first;
    while (stand.count().idle < 3) await new Promise((resolve) => setTimeout(resolve, 1));
    for (let k = 0; k < 5; k++) await new Promise((resolve) => setImmediate(resolve));
    expect(stand.count()).toEqual({ idle: 3, pools: 1, closed: 0 });
    await desk.close();
  });
  test('a lost thread costs its question only: the next one gets a new thread', async () => {
    const stand = makeStand();
    const desk = makeWhatIfDesk(stand.makePool);
    const lost = desk.answer('anna', ask(1)).catch((problem: Error) => problem.message);
    (await stand.next()).break();
    expect(await lost).toBe('lost');
    const again = desk.answer('anna', ask(2));
    (await stand.next()).give();
    expect(valueOf(await again)).toBe(2);
    expect(stand.count()).toMatchObject({ pools: 2, closed: 1 });
    await desk.close();
  });
  test('closing answers nobody and keeps nobody waiting', async () => {
    const stand = makeStand();
    const desk = makeWhatIfDesk(stand.makePool);
    const running = desk.answer('anna', ask(1));
    const waiting = desk.answer('ben', ask(2));
    const held = await stand.next();
    await desk.close();
    expect(await waiting).toBeNull();
    held.give();
    expect(valueOf(await running)).toBe(1);
  });
});
