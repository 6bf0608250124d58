// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { unnamed } from '../unnamed/unnamed.ts';
export const one = unnamed;
