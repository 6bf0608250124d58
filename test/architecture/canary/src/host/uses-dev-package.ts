// Breaks a rule on purpose: rings.test.ts demands that each rule fires here.
import ts from 'typescript';
export const version = ts.version;
