#!/usr/bin/env node
import { register } from 'tsx/esm/api';

register();
const { main } = await import('./main.ts');

// A reader that has seen enough, such as head, closes the pipe: that is no error.
process.stdout.on('error', (error) => {
  if (error.code !== 'EPIPE') throw error;
  process.exit(0);
});

const code = await main(process.argv.slice(2), {
  out: (text) => process.stdout.write(text),
  err: (text) => process.stderr.write(text),
  isTerminal: process.stderr.isTTY === true,
});
// Engines may keep threads waiting, so the process is ended; first what was printed must be through the pipe.
process.stdout.write('', () => process.stderr.write('', () => process.exit(code)));
