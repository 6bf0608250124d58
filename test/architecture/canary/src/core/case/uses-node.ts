// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { readFileSync } from 'node:fs';
export const read = readFileSync;
