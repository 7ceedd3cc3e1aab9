import js from '@eslint/js';
import tseslint from 'typescript-eslint';
import prettier from 'eslint-config-prettier';

/** What each folder of app/ may import from its sisters. Imports point one way: see DEVELOPERS.md. */
const core = ['language', 'skills', 'marking', 'run', 'authoring'];
const mayImport = {
  language: [],
  skills: ['language'],
  marking: ['language', 'skills'],
  run: ['language', 'skills', 'marking'],
  authoring: ['language', 'skills', 'marking', 'run'],
  loudness: ['language', 'skills', 'marking', 'run'],
  inference: [],
  meaning: [...core, 'inference'],
  listening: [...core, 'loudness', 'inference', 'meaning'],
  records: [...core, 'loudness'],
  desktop: [...core, 'loudness', 'meaning', 'listening', 'records', 'host'],
  host: [...core, 'loudness', 'meaning', 'listening', 'records'],
  cli: [...core, 'loudness', 'meaning', 'listening', 'records', 'host'],
};

const folders = Object.keys(mayImport);
const oneWay = Object.entries(mayImport).map(([folder, allowed]) => ({
  files: [`app/${folder}/**/*.ts`],
  rules: {
    'no-restricted-imports': [
      'error',
      {
        patterns: [
          {
            group: [
              ...folders.filter((f) => f !== folder && !allowed.includes(f)).map((f) => `**/${f}/**`),
              '**/renderer/**',
            ],
            message: `app/${folder} may import only from: ${[folder, ...allowed].join(', ')}.`,
          },
          // The core knows no clock, disk, network or DOM: everything it needs is passed in.
          ...([...core, 'loudness'].includes(folder)
            ? [{ group: ['node:*'], message: `app/${folder} is pure.` }]
            : []),
        ],
      },
    ],
  },
}));

export default tseslint.config(
  { ignores: ['dist/', 'node_modules/', '.cache/', 'models/installed/'] },
  js.configs.recommended,
  ...tseslint.configs.strict,
  prettier,
  {
    rules: {
      '@typescript-eslint/no-non-null-assertion': 'off',
      'no-nested-ternary': 'error',
      '@typescript-eslint/consistent-type-imports': 'error',
    },
  },
  {
    files: ['**/*.mjs', '**/*.js'],
    languageOptions: {
      globals: { process: 'readonly', console: 'readonly', URL: 'readonly', Buffer: 'readonly' },
    },
  },
  ...oneWay,
  {
    files: ['renderer/**/*.{ts,tsx}'],
    ignores: ['**/*.test.{ts,tsx}'],
    rules: {
      'no-restricted-imports': [
        'error',
        {
          patterns: [
            {
              group: [
                '**/app/host/*',
                '!**/app/host/api.ts',
                '**/app/records/*',
                '!**/app/records/settings.ts',
                '!**/app/records/choice.ts',
                ...['ffmpeg', 'packaged', 'soundFile', 'wav'].map((name) => `**/app/listening/${name}.ts`),
                ...['cli', 'desktop'].map((folder) => `**/app/${folder}/**`),
                '**/models/**',
                'node:*',
                'electron',
              ],
              message:
                'renderer/ may import only from the core, app/loudness, what of app/listening runs in a browser, ' +
                'app/host/api.ts and app/records/settings.ts and choice.ts.',
            },
          ],
        },
      ],
    },
  },
  {
    files: ['app/{rehearsal,loudness}/**/*.ts'],
    ignores: ['**/*.test.ts'],
    rules: {
      'no-restricted-globals': [
        'error',
        'window',
        'document',
        'fetch',
        'setTimeout',
        'setInterval',
        'process',
        'performance',
      ],
      'no-restricted-properties': [
        'error',
        {
          object: 'Date',
          property: 'now',
          message: 'The core knows no clock: times come in with the events.',
        },
        { object: 'Math', property: 'random', message: 'The core is deterministic.' },
      ],
    },
  },
);
