import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    testTimeout: 60_000,
    setupFiles: ['tests/seed.ts'],
    projects: [
      {
        extends: true,
        test: {
          name: 'modules',
          include: [
            'app/**/*.test.ts',
            'models/**/*.test.ts',
            'renderer/**/*.test.{ts,tsx}',
            'tests/**/*.test.ts',
          ],
          exclude: ['tests/browser/**'],
          // The machine that counts has two cores; recogniser tests load one model each.
          maxWorkers: 2,
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          name: 'browser',
          include: ['tests/browser/**/*.test.ts'],
          // Live speech wants the whole machine: alone, and after the others.
          maxWorkers: 1,
          sequence: { groupOrder: 1 },
        },
      },
    ],
  },
});
