import js from '@eslint/js';
import tseslint from 'typescript-eslint';
import prettier from 'eslint-config-prettier';

/** What each folder of app/ may import from its sisters, upwards: see DEVELOPERS.md. */
const core = ['language', 'matching', 'skills', 'bench', 'marking', 'interpreting', 'run'];
const listening = ['sound', 'decoding', 'listening', 'streaming', 'engines'];
const kept = ['disk', 'settings', 'library', 'records'];
const judged = ['review', 'agreement', 'progress'];
const told = [...judged, 'report'];
const mayImport = {
  language: [],
  matching: ['language'],
  skills: ['language', 'matching'],
  bench: ['language', 'skills'],
  marking: ['language', 'matching', 'skills', 'bench'],
  interpreting: ['language', 'matching', 'skills', 'marking'],
  run: ['language', 'matching', 'skills', 'bench', 'marking', 'interpreting'],
  loudness: core,
  faults: [],
  inference: [],
  review: core,
  agreement: [...core, 'review'],
  progress: [...core, 'bench', 'review'],
  report: [...core, ...judged],
  authoring: [...core, 'faults'],
  meaning: [...core, 'authoring', 'faults', 'inference'],
  sound: ['inference'],
  decoding: ['language', 'inference', 'sound'],
  listening: [...core, 'loudness', 'faults', 'meaning', 'sound', 'decoding'],
  streaming: ['language', 'faults', 'sound', 'listening'],
  engines: [...core, 'faults', 'meaning', 'settings', ...listening],
  disk: [],
  settings: ['loudness', 'disk'],
  library: [...core, 'authoring', 'faults', 'disk'],
  people: ['bench', 'disk'],
  records: [...core, 'faults', ...kept, 'review', 'progress'],
  bundle: ['skills', 'faults', 'disk', 'people', 'records'],
  carrying: [...core, 'review', 'authoring', 'faults', ...kept, 'people', 'bundle'],
  host: [
    ...[...core, 'loudness', 'authoring', 'faults', 'meaning', ...listening, ...told, ...kept, 'people'],
    ...['bench', 'bundle', 'carrying'],
  ],
  cli: [
    ...[...core, 'loudness', 'authoring', 'faults', 'meaning', ...listening, ...told, ...kept, 'people'],
    ...['bundle', 'carrying', 'host'],
  ],
  desktop: [...core, 'loudness', 'authoring', 'faults', 'meaning', ...listening, ...told, ...kept, 'host'],
};
const pure = [...core, 'loudness', 'faults', 'authoring', ...told];

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
          ...(pure.includes(folder) ? [{ group: ['node:*'], message: `app/${folder} is pure.` }] : []),
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
                '**/app/host/**',
                '!**/app/host/api.ts',
                '**/app/settings/settingsFile.ts',
                '**/app/engines/packaged.ts',
                ...['peopleFile', 'passphrase', 'instructorsArea'].map((name) => `**/app/people/${name}.ts`),
                ...['ffmpeg', 'soundFile', 'wav'].map((name) => `**/app/sound/${name}.ts`),
                ...['bundle', 'carrying', 'cli', 'desktop', 'disk', 'library', 'records'].map(
                  (folder) => `**/app/${folder}/**`,
                ),
                '**/models/**',
                'node:*',
                'electron',
              ],
              message:
                'renderer/ may import only what runs in a browser: nothing of the disk, the host but for its api.ts, or the terminal.',
            },
          ],
        },
      ],
    },
  },
  {
    files: pure.map((folder) => `app/${folder}/**/*.ts`),
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
