// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import type { Top } from '../case/top.ts';
export type Low = Top;
