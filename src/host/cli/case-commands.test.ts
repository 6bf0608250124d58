import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { HUDDLE_ENTRIES, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import { putEmptyDatabase } from '../../../test/support/pglite-template.ts';
import { listOpenPoints } from '../../core/case/list-open-points.ts';
import { TRAINING_PATIENT, TRAINING_RULES, TRAINING_TABLE } from '../../core/device/training-table.ts';
import { makePatientFacts } from '../../core/patient/make-patient-facts.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { openCaseFolder } from '../case-file/open-case-folder.ts';
import { readStored } from '../case-file/open-stored-case.ts';
import { verifyCase } from '../case-file/verify-case.ts';
import { openCaseZip } from '../case-file/open-case-zip.ts';
import { expectOk } from '../storage/case-store.suite.ts';
import { openStore } from '../storage/open-store.ts';
import { runCaseFreezeCommand } from './case-freeze-command.ts';
import { runCaseLogCommand } from './case-log-command.ts';
import type { CommandIo } from './command-io.ts';
import { runMain } from './main.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-case-cli-'));
const at = (name: string): string => join(top, name);
const NAME = 'Quentin Nobody';
const IDENTITY = { name: NAME, birthDate: '1944-05-17', patientId: 'ZX-990' };
const SECRETS = [...Object.values(IDENTITY), 'Quentin', 'Nobody'];

interface Said {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}
function listen(): { readonly io: CommandIo; readonly said: { out: string; err: string } } {
  const said = { out: '', err: '' };
  return { said, io: { out: (t) => void (said.out += t), err: (t) => void (said.err += t), isTerminal: false } };
}
async function run(...words: readonly string[]): Promise<Said> {
  const { io, said } = listen();
  const code = await runMain(words, io);
  return { code, ...said };
}
const errorOf = ({ err }: Said): string => (JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string } }).error.code;
const feed = (...parts: readonly string[]) => (async function* () {
  for (const part of parts) yield new TextEncoder().encode(part);
})();
const put = (name: string, content: unknown): string => {
  writeFileSync(at(name), typeof content === 'string' ? content : JSON.stringify(content));
  return at(name);
};
async function stateOf(name: string): Promise<CaseState> {
  return expectOk(await openCaseFolder(at(name))).state;
}
async function expectDone(...words: readonly string[]): Promise<Record<string, unknown>> {
  const done = await run(...words, '--json');
  expect([words.join(' '), done.code, done.err]).toEqual([words.join(' '), 0, '']);
  return JSON.parse(done.out) as Record<string, unknown>;
}

const { plan, planText, planSha256 } = makeStoredPlan();
const READY = {
  format: 'trinadir.entries/1', huddle: HUDDLE_ENTRIES,
  branches: Object.fromEntries(['moved-up', 'moved-down', 'leaks'].map((b) => [b, { person: 'Colleague One', item: 'snare', place: 'shelf snare' }])),
  doubts: listOpenPoints(plan).map(({ section, code }) => ({ section, code, because: 'Looked at by the team.' })),
};
/** A case folder with plan, huddle and identity; only the comparison with the patient is left. */
async function makeReady(name: string): Promise<void> {
  await expectDone('case', 'new', at(name), '--label', 'A 7', '--date', '2026-03-02', '--training', '--by', 'Colleague One');
  await expectDone('case', 'add', at(name), put('identity.json', { format: 'trinadir.entries/1', referral: { 'identity.name': NAME, 'identity.birthDate': IDENTITY.birthDate, 'identity.patientId': IDENTITY.patientId } }));
  await expectDone('case', 'add', at(name), put('plan.json', planText), '--by', 'Colleague One');
  await expectDone('case', 'add', at(name), put('ready.json', READY), '--by', 'Colleague One');
}
const freeze = async (name: string, more: Partial<Parameters<typeof runCaseFreezeCommand>[0]> = {}): Promise<Said> => {
  const { io, said } = listen();
  const code = await runCaseFreezeCommand({ dir: at(name), by: 'Colleague One', json: true, ...more }, io);
  return { code, ...said };
};

beforeAll(async () => {
  process.env['SOURCE_DATE_EPOCH'] = '1772438400';
  await makeReady('ready');
});
afterAll(() => {
  delete process.env['SOURCE_DATE_EPOCH'];
  rmSync(top, { recursive: true, force: true });
});

describe('a case on the command line', () => {
  test('goes from new over add, freeze and log to export, and the zip says the same', async () => {
    await makeReady('whole');
    const frozen = await freeze('whole', { identifiers: '-', input: feed(JSON.stringify(IDENTITY)) });
    expect([frozen.code, frozen.err]).toEqual([0, '']);
    const { frozenSha256 } = JSON.parse(frozen.out) as { frozenSha256: string };
    const document = JSON.parse(readFileSync(join(at('whole'), 'documents', `${frozenSha256}.json`), 'utf8')) as FrozenDocument;
    expect([document.planSha256, document.frozenBy, document.choice.device]).toEqual([planSha256, 'Colleague One', plan.landing!.device]);
    const taps = ['phase {"phase":"releasing"}', 'pacing {"isOn":true,"ratePerMin":120}', 'moved {"direction":"up","mm":4}', 'recaptured {"isWhole":true}'];
    for (const tap of taps) await expectDone('case', 'log', at('whole'), '--kind', tap.slice(0, tap.indexOf(' ')), '--data', tap.slice(tap.indexOf(' ') + 1));
    const shown = await expectDone('case', 'show', at('whole'));
    expect(shown).toMatchObject({ where: 'folder', label: 'A 7', identityFields: ['birthDate', 'name', 'patientId'], frozen: { frozenSha256, isBehind: false }, room: { recaptures: 1, phase: { phase: 'position' } } });
    await expectDone('case', 'export', at('whole'), '--zip', '--out', at('whole.trinadir.zip'), '--quiet');
    const moved = await expectDone('case', 'show', at('whole.trinadir.zip'));
    expect({ ...moved, where: 'folder' }).toEqual(shown);
    for (const named of ['whole', 'whole.trinadir.zip']) expect(await expectDone('audit', 'verify', at(named))).toMatchObject({ frozen: 1, documents: 2, events: (await stateOf('whole')).seq });
    for (const [format, begin] of [['csv', '\ufeffat,'], ['fhir', '{"entry"'], ['pdf', '%PDF-']] as const) {
      await expectDone('export', at('whole.trinadir.zip'), `--${format}`, '--out', at(`log.${format}`));
      await expectDone('case', 'export', at('whole'), `--${format}`, '--out', at(`again.${format}`));
      const bytes = readFileSync(at(`log.${format}`));
      expect(bytes.toString('utf8').startsWith(begin)).toBe(true);
      expect(bytes.equals(readFileSync(at(`again.${format}`)))).toBe(true);
      for (const secret of SECRETS) expect(bytes.includes(secret)).toBe(false);
    }
  });

  test('the same words at the same time give the same bytes', async () => {
    await makeReady('ready-again');
    for (const file of ['case.json', 'events.ndjson']) expect(readFileSync(join(at('ready-again'), file))).toEqual(readFileSync(join(at('ready'), file)));
    for (const n of [1, 2]) await expectDone('case', 'export', at('ready'), '--zip', '--out', at(`same-${n}.zip`), '--quiet');
    expect(readFileSync(at('same-1.zip'))).toEqual(readFileSync(at('same-2.zip')));
  });

  test('says who the patient is nowhere but in the log of the case', async () => {
    const whole = await run('case', 'show', at('ready'));
    const json = await run('case', 'show', at('ready'), '--json');
    const zip = await run('case', 'export', at('ready'), '--zip', '--out', at('personal.zip'));
    expect(zip.err).toContain('identity of the patient as entered (3 fields)');
    expect(statSync(at('personal.zip')).mode & 0o077).toBe(0); // others of the machine cannot read it
    const wrong = await freeze('ready', { identifiers: put('other-patient.json', { ...IDENTITY, name: 'Someone Else' }) });
    expect([wrong.code, errorOf(wrong)]).toEqual([3, 'freeze-blocked']);
    for (const { out, err } of [whole, json, zip, wrong]) for (const secret of [...SECRETS, 'Someone']) expect(out + err).not.toContain(secret);
    const log = readFileSync(join(at('ready'), 'events.ndjson'), 'utf8');
    expect([log.includes(NAME), log.includes('Someone')]).toEqual([true, false]);
    expect(log).not.toMatch(/"kind":"identity\.checked".*1944/); // what was compared is not kept
    for (const help of [['case', '--help'], ['case', 'new', '--help'], ['case', 'export', '--help']]) expect((await run(...help)).out.replace(/\s+/g, ' ')).toContain('personal data');
  });

  test('each verb shows one worked line in its help', async () => {
    for (const verb of ['new', 'add', 'freeze', 'log', 'show', 'export']) expect((await run('case', verb, '--help')).out).toContain(`trinadir case ${verb} case-7`);
    expect((await run('export', '--help')).out).toContain('trinadir export case-7');
    expect((await run('case')).code).toBe(2);
  });
});

describe('trinadir case freeze', () => {
  test('lists what stands in the way, by code, and freezes nothing', async () => {
    const before = await stateOf('ready');
    const blocked = await freeze('ready');
    expect([blocked.code, errorOf(blocked)]).toEqual([3, 'freeze-blocked']);
    const { standing } = JSON.parse(blocked.out) as { standing: readonly { code: string; isHard: boolean }[] };
    expect(standing.length).toBeGreaterThan(0);
    expect(standing.every((s) => typeof s.isHard === 'boolean')).toBe(true);
    expect((await stateOf('ready')).frozen).toBe(before.frozen);
    // What it lists as open is what the entries take.
    await expectDone('case', 'new', at('doubtful'), '--label', 'D', '--training');
    await expectDone('case', 'add', at('doubtful'), put('plan.json', planText));
    const { doubts } = JSON.parse((await freeze('doubtful')).out) as { doubts: readonly object[] };
    await expectDone('case', 'add', at('doubtful'), put('doubts.json', { format: 'trinadir.entries/1', doubts: doubts.map((d) => ({ ...d, because: 'Looked at.' })) }));
    expect([doubts.length > 0, (JSON.parse((await freeze('doubtful')).out) as { doubts: readonly object[] }).doubts]).toEqual([true, []]);
    const human = await freeze('ready', { json: false });
    for (const { code } of standing) expect(human.err).toContain(code);
  });
  test('takes identifiers from a file or standard input only, two at least', async () => {
    const log = readFileSync(join(at('ready'), 'events.ndjson'));
    for (const [given, code] of [['{"name":"A B"}', 'identity-too-few'], ['{"name":"A B","age":3}', 'identifiers-wrong'], ['Quentin Nobody', 'identifiers-wrong'], [' '.repeat(5000), 'identifiers-wrong']] as const) {
      const refused = await freeze('ready', { identifiers: '-', input: feed(given) });
      expect([refused.code, errorOf(refused)]).toEqual([3, code]);
      expect(errorOf(await freeze('ready', { identifiers: put('given.json', given) }))).toBe(code);
    }
    expect(errorOf(await freeze('ready', { identifiers: at('no-such-file') }))).toBe('identifiers-wrong');
    expect(readFileSync(join(at('ready'), 'events.ndjson'))).toEqual(log);
  });
  test('an override needs a reason and a blocker that a person may take on themselves', async () => {
    await makeReady('override');
    await expectDone('case', 'add', at('override'), put('no-nurse.json', { format: 'trinadir.entries/1', huddle: { 'team.nurse': null } }));
    const patient = () => ({ identifiers: '-', input: feed(JSON.stringify(IDENTITY)) });
    for (const [override, code, exit] of [['entry-team.nurse', 'override-not-written', 2], ['entry-team.nurse=  x', 'override-not-written', 2], ['plan-stale=because', 'override-not-allowed', 3], ['identity-unchecked=known to me', 'override-not-allowed', 3]] as const) {
      const refused = await freeze('override', { override: [override] });
      expect([refused.code, errorOf(refused)]).toEqual([exit, code]);
    }
    expect(errorOf(await freeze('override', patient()))).toBe('freeze-blocked');
    const done = await freeze('override', { ...patient(), override: ['entry-team.nurse=Comes at nine.'] });
    expect([done.code, done.err]).toEqual([0, '']);
    const { frozenSha256 } = JSON.parse(done.out) as { frozenSha256: string };
    const document = JSON.parse(readFileSync(join(at('override'), 'documents', `${frozenSha256}.json`), 'utf8')) as FrozenDocument;
    expect(document.overrides).toEqual([{ code: 'entry-team.nurse', because: 'Comes at nine.', by: 'Colleague One' }]);
    // Frozen again with a nurse: the differences are named, and the one before is amended.
    await expectDone('case', 'add', at('override'), put('nurse.json', { format: 'trinadir.entries/1', huddle: { 'team.nurse': 'Colleague Nine' } }));
    const again = await freeze('override', patient());
    expect(JSON.parse(again.out)).toMatchObject({ amends: frozenSha256, differences: ['huddle.team.nurse', 'overrides'] });
    const unchanged = await freeze('override', patient());
    expect([unchanged.code, errorOf(unchanged)]).toEqual([3, 'freeze-unchanged']);
  });
});

describe('trinadir case add', () => {
  test('a plan stands on the tables and values that the case names, or is refused', async () => {
    await expectDone('case', 'new', at('tables'), '--label', 'T', '--training');
    await expectDone('case', 'add', at('tables'), put('devices.json', TRAINING_TABLE));
    await expectDone('case', 'add', at('tables'), put('rules.json', TRAINING_RULES));
    const differs = await run('case', 'add', at('tables'), put('plan.json', planText), '--json');
    expect([differs.code, errorOf(differs)]).toEqual([3, 'case-plan-differs']);
    const { devicesSha256, rulesSha256 } = (await stateOf('tables')).tables;
    const fitting = { ...plan, inputs: { ...plan.inputs, devicesSha256, rulesSha256 } };
    await expectDone('case', 'add', at('tables'), put('fitting.json', fitting));
    expect((await stateOf('tables')).plan).toMatchObject({ isStale: false });
    expect(await expectDone('case', 'add', at('tables'), at('fitting.json'))).toMatchObject({ events: 0 });
    await expectDone('case', 'add', at('tables'), put('patient.json', TRAINING_PATIENT));
    expect((await stateOf('tables')).plan).toMatchObject({ isStale: true });
    const other = await run('case', 'add', at('tables'), put('other.json', { ...fitting, patient: { ...TRAINING_PATIENT, pacingPerMin: 111 } }), '--json');
    expect([other.code, errorOf(other)]).toEqual([3, 'case-plan-differs']);
    await expectDone('case', 'add', at('tables'), put('with-patient.json', { ...fitting, patient: TRAINING_PATIENT }));
  });
  test('patient.json becomes the entries from which the same patient.json follows', async () => {
    await expectDone('case', 'new', at('patient'), '--label', 'P');
    await expectDone('case', 'add', at('patient'), put('patient.json', TRAINING_PATIENT));
    expect(makePatientFacts((await stateOf('patient')).referral, TRAINING_PATIENT.by)).toEqual(JSON.parse(JSON.stringify(TRAINING_PATIENT)));
    expect(await expectDone('case', 'add', at('patient'), at('patient.json'))).toMatchObject({ events: 0 });
  });
  test('refuses by code what does not fit, and keeps nothing of it', async () => {
    await expectDone('case', 'new', at('refused'), '--label', 'R');
    const entries = (more: object) => ({ format: 'trinadir.entries/1', ...more });
    const cases: readonly (readonly [string, unknown])[] = [
      ['file-not-json', 'not json'], ['file-not-json', '['.repeat(100_000)], ['file-other-format', { format: 'trinadir.landmarks/1' }], ['file-other-format', []], ['plan-invalid', { format: 'trinadir.plan/1' }],
      ['plan-invalid', { ...plan, size: { answer: 7 } }], ['plan-invalid', { ...plan, landing: { ...plan.landing, limits: [{}] } }],
      ['devices-invalid', { format: 'trinadir.devices/1' }], ['table-changed', { ...TRAINING_TABLE, signedSha256: '0'.repeat(64) }], ['devices-unsigned', { ...TRAINING_TABLE, signedBy: ' ' }], ['patient-invalid', { format: 'trinadir.patient/1', by: 'x', name: NAME }],
      ['entries-empty', entries({})], ['entries-invalid', entries({ [NAME]: 1 })], ['entries-invalid', entries({ huddle: { [NAME]: 'x' } })], ['entries-invalid', entries({ referral: { 'body.heightCm': 1.62 } })], ['entries-invalid', entries({ huddle: { 'depth.startMm': 99 } })],
      ['entries-invalid', entries({ branches: { leaks: { person: 'A' } } })], ['entries-doubt-unknown', entries({ doubts: [{ section: 'root', code: 'nothing', because: 'Looked at.' }] })],
    ];
    for (const [code, content] of cases) {
      const refused = await run('case', 'add', at('refused'), put('bad.json', content), '--json');
      expect([refused.code, errorOf(refused)], JSON.stringify(content).slice(0, 80)).toEqual([3, code]);
      for (const secret of SECRETS) expect(refused.err).not.toContain(secret);
    }
    expect(errorOf(await run('case', 'add', at('refused'), at('no-such-file'), '--json'))).toBe('file-unreadable');
    expect([(await stateOf('refused')).seq, readdirSync(join(at('refused'), 'documents'))]).toEqual([1, []]);
  });
});

describe('trinadir case log', () => {
  const log = async (name: string, parts: readonly string[], more: Partial<Parameters<typeof runCaseLogCommand>[0]> = {}): Promise<Said> => {
    const { io, said } = listen();
    const code = await runCaseLogCommand({ dir: at(name), stdin: true, input: feed(...parts), ...more }, io);
    return { code, ...said };
  };
  test('a record is corrected by another one, and taken back', async () => {
    await expectDone('case', 'new', at('correct'), '--label', 'C');
    const first = await expectDone('case', 'log', at('correct'), '--kind', 'contrast', '--data', '{"ml":200}');
    const second = await expectDone('case', 'log', at('correct'), '--kind', 'contrast', '--data', '{"ml":20}', '--corrects', String(first['entryId']));
    expect(await expectDone('case', 'show', at('correct'))).toMatchObject({ room: { contrastMl: 20 } });
    await expectDone('case', 'log', at('correct'), '--corrects', String(second['entryId']), '--take-back');
    const shown = await expectDone('case', 'show', at('correct'));
    expect((shown['room'] as { records: readonly unknown[] }).records.length).toBe(3); // nothing is ever removed
    expect(shown).toMatchObject({ room: { contrastMl: 0, holes: [] } });
    const unknown = await run('case', 'log', at('correct'), '--kind', 'note', '--data', '{"text":"x"}', '--corrects', 'nobody-knows', '--json');
    expect([unknown.code, errorOf(unknown)]).toEqual([3, 'record-unknown']);
  });
  test('lines are acknowledged one by one; a line that does not fit is named and the others are kept', async () => {
    await expectDone('case', 'new', at('stream'), '--label', 'S');
    const said = await log('stream', ['{"is":"note","te', 'xt":"a"}\n{"is":"nothing"}\n\r\n', `{"is":"note","text":"${'x'.repeat(70_000)}`, `"}\n{"is":"note","text":"b"}\n{"is":"note","text":"ü`, '"}']);
    expect([said.code, said.out.trimEnd().split('\n').map((line) => line.split(' ')[0])]).toEqual([3, ['2', '3', '4']]);
    expect(said.err).toMatch(/Line 2 was not logged.*\n.*Line 4 was not logged: it is longer/);
    expect((await stateOf('stream')).room.entries).toBe(3);
  });
  test('whole records that are handed in twice are one; another tap of the same number is refused', async () => {
    await expectDone('case', 'new', at('twice'), '--label', 'D');
    const record = { entryId: 'entry-1', clientId: 'page-one', place: 'remote', count: 1, monotonicMs: 5, clientAt: '2026-03-02T07:00:00.000Z', happenedAt: '2026-03-02T07:00:00.100Z', offset: { addedMs: 100, withinMs: 20 }, corrects: null, entry: { is: 'note', text: 'once' } };
    const line = `${JSON.stringify(record)}\n`;
    expect(JSON.parse((await log('twice', [line, line], { json: true })).out)).toMatchObject({ taken: ['entry-1'], known: ['entry-1'], refused: 0 });
    const later = await log('twice', [line, `${JSON.stringify({ ...record, entry: { is: 'note', text: 'other' } })}\n`], { json: true });
    expect([later.code, JSON.parse(later.out)]).toEqual([3, expect.objectContaining({ taken: [], known: ['entry-1'], refused: 1 })]);
    expect((await stateOf('twice')).room.entries).toBe(1);
    // No tap was made after it arrived, whatever its page says.
    await log('twice', [`${JSON.stringify({ ...record, entryId: 'entry-2', count: 2, happenedAt: '2031-01-01T00:00:00.000Z' })}\n`]);
    const { events } = expectOk(await openCaseFolder(at('twice')));
    expect((events.at(-1)!.data as { happenedAt: string }).happenedAt).toBe(events.at(-1)!.at);
  });
  test('wrong words are usage; what does not fit is refused by field', async () => {
    await expectDone('case', 'new', at('words'), '--label', 'W');
    for (const words of [[], ['--kind', 'note', '--stdin'], ['--take-back'], ['--take-back', '--corrects', 'some-id', '--kind', 'note']]) {
      const refused = await run('case', 'log', at('words'), ...words, '--json');
      expect([refused.code, errorOf(refused)]).toEqual([2, 'room-kind-missing']);
    }
    for (const words of [['--kind', NAME], ['--kind', 'pacing', '--data', '{"isOn":"yes"}'], ['--kind', 'note', '--data', '[1]'], ['--kind', 'note', '--data', 'Quentin']]) {
      const refused = await run('case', 'log', at('words'), ...words, '--json');
      expect([refused.code, errorOf(refused)]).toEqual([3, 'room-entry-invalid']);
      for (const secret of SECRETS) expect(refused.err).not.toContain(secret);
    }
    expect((await stateOf('words')).seq).toBe(1);
  });
});

describe('a CASE that is not a folder to write', () => {
  test('is refused by code', async () => {
    const zip = at('read-only.zip');
    await expectDone('case', 'export', at('ready'), '--zip', '--out', zip, '--quiet');
    for (const [words, exit, code] of [
      [['case', 'log', zip, '--kind', 'note', '--data', '{"text":"x"}'], 2, 'case-read-only'], [['case', 'add', at('nowhere'), at('plan.json')], 3, 'case-unreadable'], [['case', 'freeze', top], 3, 'case-not-case'],
      [['case', 'show', at('plan.json')], 3, 'case-not-case'], [['audit', 'verify', at('nowhere')], 3, 'case-unreadable'], [['case', 'show', 'case-nowhere', '--data', at('no-data')], 3, 'case-unreadable'],
      [['case', 'new', at('ready'), '--label', 'x'], 2, 'case-place-taken'], [['case', 'new', at('new'), '--label', ' '], 2, 'case-label-wrong'], [['case', 'new', at('new'), '--label', 'x', '--date', '2.3.2026'], 2, 'case-date-wrong'],
      [['case', 'new', at('new'), '--label', 'x', '--by', ''], 2, 'case-by-wrong'], [['case', 'export', at('ready'), '--out', at('x')], 2, 'export-not-named'], [['case', 'export', at('ready'), '--zip', '--csv', '--out', at('x')], 2, 'export-several'],
      [['export', at('ready'), '--sr', '--out', at('x')], 2, 'export-later'], [['case', 'export', at('ready'), '--teaching', '--out', at('x')], 2, 'export-later'], [['case', 'export', at('ready'), '--zip', '--without-identity', '--out', at('x')], 2, 'export-with-identity'],
      [['audit', 'verify', zip, '--pixels'], 2, 'case-without-pixels'], [['case', 'export', at('ready'), '--zip', '--out', zip], 2, 'out-file-exists'], [['case', 'export', at('ready'), '--zip', '--replace', '--out', top], 2, 'out-file-exists'], [['case', 'export', at('ready'), '--zip', '--out', at('no/such/x.zip')], 3, 'out-file-not-writable'],
    ] as const) {
      const refused = await run(...words, '--json');
      expect([words.slice(0, 2).join(' '), refused.code, errorOf(refused)]).toEqual([words.slice(0, 2).join(' '), exit, code]);
    }
    expect(readdirSync(top)).not.toContain('no-data'); // a look at a store makes none
  });
});

describe('a stored case', () => {
  test('is shown, verified and moved away by its id, and the store notes it', async () => {
    const data = at('data');
    mkdirSync(data);
    await putEmptyDatabase(data);
    const ready = expectOk(await openCaseFolder(at('ready')));
    const opened = expectOk(await openStore({ dataFolder: data }));
    expectOk(await opened.store.addPerson({ personId: 'p-one', login: 'one', displayName: 'Colleague One', role: 'operator', isActive: true, passwordHash: null, oidcSubject: null }));
    expectOk(await opened.store.putDocument('plan', planText));
    const events = ready.events.map(({ kind, data: said }) => ({ kind, data: said }) as never);
    const stored = expectOk(await opened.store.append({ caseId: 'case-stored', expectSeq: 0, by: 'p-one', events }));
    expect(expectOk(await verifyCase(expectOk(await readStored('case-stored', opened.store, async () => {}))))).toMatchObject({ events: events.length, documents: 1 });
    const place = ['--data', data];
    const locked = await run('case', 'show', 'case-stored', ...place, '--json');
    expect([locked.code, errorOf(locked)]).toEqual([2, 'store-locked']);
    await opened.close();
    expect(await expectDone('case', 'show', 'case-stored', ...place)).toMatchObject({ where: 'stored', label: 'A 7', seq: events.length });
    await expectDone('case', 'export', 'case-stored', '--zip', '--out', at('moved.trinadir.zip'), '--quiet', ...place);
    const moved = expectOk(openCaseZip(readFileSync(at('moved.trinadir.zip'))));
    expect(moved.events).toEqual(stored);
    expect(await expectDone('audit', 'verify', at('moved.trinadir.zip'))).toMatchObject({ events: events.length, sha256: stored.at(-1)!.sha256 });
    const again = expectOk(await openStore({ dataFolder: data }));
    const noted = expectOk(await again.store.listAudit({ caseId: 'case-stored', afterSeq: 0, limit: 100 })).map(({ kind, by }) => `${kind} ${by}`);
    expect(noted).toEqual(['case.read trinadir', 'export.made trinadir']);
    await again.close();
  });
});
