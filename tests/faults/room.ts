import { spawn, type ChildProcess, type SpawnOptions } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';

const PROCESS = fileURLToPath(new URL('roomProcess.mjs', import.meta.url));

/** `sinkside room` in a process of its own, on a data folder. */
export interface StartedRoom {
  readonly child: ChildProcess;
  readonly url: string;
  /** What it has printed so far. */
  readonly output: () => string;
}

/** Those that were started here, to be killed at the end whatever happens. */
const started = new Set<ChildProcess>();

/** Starts the room, by default as this user, and waits until it is open. Rejects where it ends instead. */
export async function startRoom(
  data: string,
  user: Pick<SpawnOptions, 'uid' | 'gid'> = {},
): Promise<StartedRoom> {
  const env = { ...process.env, SINKSIDE_DATA: data };
  const child = spawn(process.execPath, [PROCESS], { ...user, env, stdio: ['ignore', 'pipe', 'pipe'] });
  started.add(child);
  let output = '';
  const url = await new Promise<string>((done, failed) => {
    const take = (piece: Buffer): void => {
      output += piece.toString();
      const address = /open at (\S+)/.exec(output)?.[1];
      if (address !== undefined) done(address);
    };
    child.stdout.on('data', take);
    child.stderr.on('data', take);
    child.on('exit', (code) => failed(new Error(`The room ended with ${code}: ${output}`)));
  });
  return { child, url, output: () => output };
}

/** Kills all that were started, also those that have not opened yet. */
export async function killAll(): Promise<void> {
  for (const child of started) await kill(child);
  started.clear();
}

/** Kills a process at once, and waits until it is gone. */
export async function kill(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const gone = once(child, 'exit');
  child.kill('SIGKILL');
  await gone;
}
