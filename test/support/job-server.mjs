// A server's job runner as a process of its own, to be killed: opens the store, resumes what is left, starts a plan when
// asked for one, and prints each change of a job and each event as one line.
import { makeCaseFeed } from '../../dist/host/server/case-feed.js';
import { openStore } from '../../dist/host/storage/open-store.js';
import { DeskJobRunner, makePlanJob } from '../../dist/host/jobs/desk-job-runner.js';

const [dataFolder, caseId] = process.argv.slice(2);
const opened = await openStore({ dataFolder });
if (!opened.ok) {
  process.stdout.write(`refused ${opened.failure.code}\n`);
  process.exit(3);
}
const { store, blobs } = opened.value;
const feed = makeCaseFeed();
feed.follow(caseId, (news) => process.stdout.write(news.kind === 'job' ? `job ${news.job.kind} ${news.job.state} ${news.job.progress.ratio.toFixed(2)}\n` : `event ${news.events.at(-1).kind}\n`));
const jobs = new DeskJobRunner({ store, blobs, feed, dataFolder, version: 'test' });
const state = await store.readState(caseId);
await jobs.start(makePlanJob(state.value, 'p-anna'));
