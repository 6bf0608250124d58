// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { z } from 'zod';
export const schema = z.string();
