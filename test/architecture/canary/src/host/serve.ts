// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { page } from '../web/page.ts';
export type Serve = typeof page;
