import fc from 'fast-check';

/**
 * Property tests draw the same inputs every time, so that a change is judged by what it changes; `npm run fuzz` draws
 * new ones, and names the seed of what it finds.
 */
fc.configureGlobal({ seed: Number(process.env['SEED'] ?? 1) });
