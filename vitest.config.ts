import { defineConfig } from 'vitest/config';
import { BaseSequencer, type TestSpecification } from 'vitest/node';

/** Walks in a browser and real stores take minutes each: begun last, one of them would keep one core waiting at the end. */
const LONG = /\/test\/(journeys|reference)\/|\/src\/host\/(jobs|cli|server|storage)\//;
class LongFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const sorted = await super.sort(files);
    const isLong = ({ moduleId }: TestSpecification): boolean => LONG.test(moduleId);
    return [...sorted.filter(isLong), ...sorted.filter((file) => !isLong(file))];
  }
}

export default defineConfig({
  test: {
    include: ['src/**/*.test.ts', 'test/**/*.test.ts', 'bench/**/*.test.ts'],
    exclude: ['test/architecture/canary/**', '**/node_modules/**', 'dist/**'],
    // Two workers: the machine the tests are promised on has two cores, and CT volumes are large.
    maxWorkers: 2,
    sequence: { sequencer: LongFirst },
    testTimeout: 120_000,
    hookTimeout: 120_000,
    // What a page or a server must come to say is waited for, not timed: the machine may be busy.
    expect: { poll: { timeout: 20_000 } },
  },
});
