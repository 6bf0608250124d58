// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { b } from './cycle-b.ts';
export const a = (): unknown => b;
