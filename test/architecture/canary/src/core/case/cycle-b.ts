// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { a } from './cycle-a.ts';
export const b = (): unknown => a;
