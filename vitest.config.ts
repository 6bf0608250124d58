import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['src/**/*.test.ts', 'test/**/*.test.ts', 'bench/**/*.test.ts'],
    exclude: ['test/architecture/canary/**', '**/node_modules/**', 'dist/**'],
    // Two workers: the machine the tests are promised on has two cores, and CT volumes are large.
    maxWorkers: 2,
    testTimeout: 120_000,
    hookTimeout: 120_000,
    // What a page or a server must come to say is waited for, not timed: the machine may be busy.
    expect: { poll: { timeout: 20_000 } },
  },
});
