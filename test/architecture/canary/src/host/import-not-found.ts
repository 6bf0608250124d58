// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { nothing } from './not-there.ts';
export const wrong = nothing;
