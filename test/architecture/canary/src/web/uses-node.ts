// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { join } from 'node:path';
export const joined = join;
