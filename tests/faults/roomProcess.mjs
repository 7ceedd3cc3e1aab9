// `sinkside room` in a process of its own, to be killed or starved: without a browser, and without building the screens.
import { register } from 'tsx/esm/api';

register();
const { REAL, run } = await import('../../app/cli/room.ts');
const io = {
  out: (text) => process.stdout.write(text),
  err: (text) => process.stderr.write(text),
  isTerminal: false,
};
const effects = { ...REAL, build: async () => undefined };
process.exitCode = await run(['--port', '0', '--no-open'], io, effects);
