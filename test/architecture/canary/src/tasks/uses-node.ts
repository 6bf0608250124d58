// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { Worker } from 'node:worker_threads';
export const worker = Worker;
