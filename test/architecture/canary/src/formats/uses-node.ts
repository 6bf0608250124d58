// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import { inflateSync } from 'node:zlib';
export const inflate = inflateSync;
