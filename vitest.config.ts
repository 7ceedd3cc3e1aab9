import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['app/**/*.test.ts', 'models/**/*.test.ts', 'renderer/**/*.test.{ts,tsx}', 'tests/**/*.test.ts'],
    // The machine that counts has two cores; recogniser tests load one model each.
    maxWorkers: 2,
    testTimeout: 20_000,
  },
});
