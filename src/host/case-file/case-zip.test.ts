import { zipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { makeDraw, mutateBytes } from '../../../test/fuzz/mutate-bytes.ts';
import { seed } from '../../../test/support/seed.ts';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { succeed } from '../../core/result.ts';
import { expectCode, expectOk } from '../storage/case-store.suite.ts';
import { linkEvents } from '../storage/case-calls.ts';
import { CHAIN_START, hashEvent, hashText } from '../storage/hash-chain.ts';
import { openCaseZip } from './open-case-zip.ts';
import { formatEventLine, formatHead } from './parse-case.ts';
import { verifyCase } from './verify-case.ts';
import { writeCaseZip } from './write-case-zip.ts';

const encode = (text: string): Uint8Array => new TextEncoder().encode(text);
const PLAN = '{"format":"trinadir.plan/1"}';
const EVENTS: readonly NewCaseEvent[] = [
  { kind: 'case.opened', data: { label: 'A 7', procedureOn: null, training: true } },
  { kind: 'referral.entered', data: { field: 'identity.name', value: 'Nobody Known', unit: null } },
  { kind: 'plan.made', data: { planSha256: hashText(PLAN), surveySha256: null, basedOnSeq: 2 } },
];
const CASE_ID = 'case-zipped';
const events: readonly CaseEvent[] = expectOk(linkEvents({ caseId: CASE_ID, by: 'one', expectSeq: 0, events: EVENTS }, { seq: 0, sha256: CHAIN_START }, '2026-03-02T08:00:00.000Z'));
const headOf = (of: readonly CaseEvent[]): string => formatHead({ format: 'trinadir.case/1', caseId: CASE_ID, seq: of.length, sha256: of.at(-1)!.sha256 });
const files: Readonly<Record<string, Uint8Array>> = {
  'case.json': encode(headOf(events)), 'events.ndjson': encode(events.map(formatEventLine).join('')), [`documents/${hashText(PLAN)}.json`]: encode(PLAN),
};
const pack = (change: Readonly<Record<string, Uint8Array>> = {}): Uint8Array => zipSync({ ...files, ...change });
const whole = pack();

/** A chain that fits, of events that nobody's program would write. */
function pretend(data: unknown, kind: string, by: unknown = 'one'): Uint8Array {
  const last = { caseId: CASE_ID, seq: 4, at: '2026-03-02T08:00:00.000Z', by, kind, data, supersedes: null, prevSha256: events[2]!.sha256 } as unknown as Omit<CaseEvent, 'sha256'>;
  const forged = [...events, { ...last, sha256: hashEvent(last) } as CaseEvent];
  return pack({ 'case.json': encode(headOf(forged)), 'events.ndjson': encode(forged.map(formatEventLine).join('')) });
}

describe(`a .trinadir.zip (seed ${seed})`, () => {
  test('is read and verified as it was written, byte for byte the same each time', async () => {
    const opened = expectOk(openCaseZip(whole));
    expect(opened.events).toEqual(events);
    expect(expectOk(await verifyCase(opened))).toEqual({ caseId: CASE_ID, events: 3, documents: 1, frozen: 0, sha256: events[2]!.sha256 });
    const [once, twice] = [expectOk(await writeCaseZip(opened)), expectOk(await writeCaseZip(opened))];
    expect(once).toEqual(twice);
    expect(expectOk(openCaseZip(once)).state).toEqual(opened.state);
    expect(expectCode(await writeCaseZip({ ...opened, readDocument: (sha256) => Promise.resolve(sha256 === hashText(PLAN) ? { ok: false, failure: { code: 'document-missing', message: '', nextStep: '', evidence: {} } } : succeed('')) }))).toBe('document-missing');
  });

  test('refuses paths that lead outside, files that stand there twice, and what is no case', () => {
    expect(expectCode(openCaseZip(pack({ '../outside.json': encode('x') })))).toBe('case-zip-outside');
    expect(expectCode(openCaseZip(pack({ '/etc/passwd': encode('x') })))).toBe('case-zip-outside');
    expect(expectCode(openCaseZip(pack({ './case.json': encode(headOf(events)) })))).toBe('case-zip-double');
    expect(expectCode(openCaseZip(zipSync({ 'case.json': files['case.json']! })))).toBe('case-not-case');
    expect(expectCode(openCaseZip(zipSync({ 'readme.txt': encode('x') })))).toBe('case-not-case');
    expect(expectCode(openCaseZip(encode('not a zip')))).toBe('case-not-case');
    expect(expectCode(openCaseZip(new Uint8Array(0)))).toBe('case-not-case');
    expect(expectOk(openCaseZip(pack({ 'notes/mine.txt': encode('x') }))).notes.map((n) => n.code)).toEqual(['zip-entries-foreign']);
  });

  test('refuses bombs before it unpacks them', async () => {
    const zeros = new Uint8Array(1 << 20);
    expect(expectCode(openCaseZip(pack({ 'case.json': zeros })))).toBe('case-too-large');
    const line = encode(`${'['.repeat(200_000)}\n`);
    expect(expectCode(openCaseZip(pack({ 'events.ndjson': line })))).toBe('chain-broken');
    expect(expectCode(openCaseZip(pack({ 'case.json': encode('['.repeat(4000)) })))).toBe('case-not-case');
    // An entry that says it is small and is not: the bytes behind its name are bounded by what it says.
    const bomb = pack({ 'events.ndjson': zeros });
    const at = Buffer.from(bomb).lastIndexOf('events.ndjson');
    new DataView(bomb.buffer, bomb.byteOffset).setUint32(at - 46 + 24, 900, true);
    expect(expectCode(openCaseZip(bomb))).toBe('chain-broken');
    const deep = '{"format":"trinadir.frozen/1","x":'.padEnd(100_000, '[');
    const frozenSha256 = hashText(deep);
    const forged = expectOk(openCaseZip(zipSync(await (async () => {
      const more = expectOk(linkEvents({ caseId: CASE_ID, by: 'one', expectSeq: 3, events: [{ kind: 'plan.frozen', data: { frozenSha256, planSha256: hashText(PLAN), basedOnSeq: 3, amends: null, differences: [] } }] }, { seq: 3, sha256: events[2]!.sha256 }, '2026-03-02T08:00:00.000Z'));
      const all = [...events, ...more];
      return { ...files, 'case.json': encode(headOf(all)), 'events.ndjson': encode(all.map(formatEventLine).join('')), [`documents/${frozenSha256}.json`]: encode(deep) };
    })())));
    expect(expectCode(await verifyCase(forged))).toBe('chain-broken');
  });

  test('a whole chain of events that nobody wrote is refused by its shape, and repeats nothing of it', () => {
    const SECRET = 'DOE^JOHN';
    for (const bytes of [
      pretend({ [SECRET]: 1 }, 'mark.moved'), pretend({ mark: 'nadir.R', lps: [1, 2], was: null }, 'mark.moved'), pretend({ fromReadings: ['id-1', 'id-2'], nadirsLps: {} }, 'consensus.set'),
      pretend({}, SECRET), pretend({}, 'constructor'), pretend({}, 'toString'), pretend({ field: SECRET.repeat(20), value: 1, unit: null }, 'referral.entered'),
      pretend({ label: 'B', procedureOn: null, training: false }, 'case.opened'), pretend({ entryId: 'x' }, 'room.logged'), pretend({ field: 'team.nurse', value: { deep: 1 } }, 'huddle.entered'), pretend({ field: 'team.nurse', value: 1 }, 'huddle.entered', ''),
    ]) {
      const opened = openCaseZip(bytes);
      expect([expectCode(opened), opened.ok ? 0 : opened.failure.evidence['seq']]).toEqual(['chain-broken', 4]);
      expect(JSON.stringify(opened)).not.toContain(SECRET);
    }
  });

  test('damaged at random, it is refused with a code, or answers what was written', async () => {
    let refused = 0;
    for (let k = 0; k < 600; k++) {
      const bytes = mutateBytes(whole, makeDraw(seed, k));
      const opened = openCaseZip(bytes);
      const verified = opened.ok ? await verifyCase(opened.value) : opened;
      if (verified.ok) {
        expect(verified.value.sha256, `copy ${k}`).toBe(events[2]!.sha256);
        expect(opened.ok && opened.value.events, `copy ${k}`).toEqual(events);
      } else {
        refused++;
        expect(verified.failure.code, `copy ${k}`).toMatch(/^(case-(not-case|other-format|too-large|zip-outside|zip-double)|chain-broken|document-(missing|damaged))$/);
        expect(JSON.stringify(verified), `copy ${k}`).not.toContain('Nobody');
      }
    }
    expect(refused).toBeGreaterThan(300);
  });
});
