// Breaks a rule on purpose, in a file of JSX: rings.test.ts demands that each rule fires here.
import { serve } from '../host/serve.ts';
import { join } from 'node:path';
export const Drawn = () => <p>{`${String(serve)} ${String(join)}`}</p>;
