// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import type { Serve } from '../host/serve.ts';
export type Outward = Serve;
