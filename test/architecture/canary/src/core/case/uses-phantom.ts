// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import type { Low } from '../phantom/phantom.ts';
export type Phantom = Low;
