// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { tested } from './serve.test.ts';
export const wrong = tested;
