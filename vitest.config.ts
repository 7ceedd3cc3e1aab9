import { defineConfig } from 'vitest/config';

/** What keeps the recogniser busy for minutes. `npm test` runs it, and the modules before it, beside the live tests, which mostly wait for sound. */
const LONG = [
  'tests/speech/**/*.test.ts',
  'tests/written/**/*.test.ts',
  'tests/rehearsal/library.test.ts',
  'tests/rehearsal/traps/*.test.ts',
];

/** What waits for pages, not for speech in real time. */
const SCREENS = [
  'tests/browser/{screens,editor,roomAndEnd,people,archive,review,report,bench,bundles,found}.test.ts',
];

export default defineConfig({
  test: {
    testTimeout: 60_000,
    // A database takes a while to start on a busy machine.
    hookTimeout: 60_000,
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
          exclude: ['tests/browser/**', ...LONG],
          // The machine that counts has two cores.
          maxWorkers: 2,
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: { name: 'long', include: LONG, maxWorkers: 1, sequence: { groupOrder: 1 } },
      },
      {
        extends: true,
        test: {
          name: 'screens',
          include: SCREENS,
          maxWorkers: 1,
          sequence: { groupOrder: 2 },
        },
      },
      {
        extends: true,
        test: {
          name: 'live',
          include: ['tests/browser/**/*.test.ts'],
          exclude: SCREENS,
          // Live speech wants a core for itself.
          maxWorkers: 1,
          sequence: { groupOrder: 3 },
        },
      },
    ],
  },
});
