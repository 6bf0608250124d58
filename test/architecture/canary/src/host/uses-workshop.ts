// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { seed } from '../../../../support/seed.ts';
export const wrong = seed;
