// Run as a process of its own by the kill tests: opens the store and edits one case as quickly as it can. Every line it
// prints was acknowledged before: "open", "event SEQ", "blob SHA256", "audit SEQ".
import { openStore } from '../../dist/host/storage/open-store.js';

const [dataFolder, caseId, dbUrl] = process.argv.slice(2);
const say = (line) => process.stdout.write(`${line}\n`);
const opened = await openStore({ dataFolder, dbUrl });
if (!opened.ok) {
  say(`refused ${opened.failure.code}`);
  process.exit(3);
}
const { store, blobs } = opened.value;
say('open');
const state = await store.readState(caseId);
let seq = state.ok ? state.value.seq : 0;
for (let k = 0; ; k++) {
  const event = seq === 0 ? { kind: 'case.opened', data: { label: 'Killed', procedureOn: null, training: true } } : { kind: 'mark.moved', data: { mark: 'nadir.R', lps: [k, 0, 0], was: null } };
  const added = await store.append({ caseId, expectSeq: seq, by: 'p-writer', events: [event] });
  if (!added.ok) {
    say(`refused ${added.failure.code}`);
    process.exit(3);
  }
  seq = added.value.at(-1).seq;
  say(`event ${seq}`);
  if (k % 3 === 0) {
    const put = await blobs.put([new TextEncoder().encode(`${caseId} ${seq} ${'x'.repeat(200_000)}`)]);
    if (put.ok) say(`blob ${put.value.sha256}`);
    const entry = await store.addAudit({ by: 'p-writer', kind: 'case.read', caseId, data: {} });
    if (entry.ok) say(`audit ${entry.value.seq}`);
  }
}
