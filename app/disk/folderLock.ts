import { mkdir, rename, rm } from 'node:fs/promises';
import { randomUUID } from 'node:crypto';
import path from 'node:path';
import { z } from 'zod';
import { isFull, textIfThere, writeFlushed } from './wholeFile.ts';

const HolderSchema = z.object({
  /** Tells one holder from another that got the same process id or port later. */
  id: z.string(),
  pid: z.number().int().positive(),
  /** Where its page is: http://127.0.0.1:PORT/ */
  port: z.number().int().positive(),
  startedAt: z.iso.datetime(),
});
/** Who holds a data folder. */
export type Holder = Readonly<z.infer<typeof HolderSchema>>;

/** What a program at a port answers: `gone` where nothing listens there, `silent` where it does but does not say who it is. */
export type Answer = { readonly id: string } | 'gone' | 'silent';

/** The world outside, passed in so that tests can stand in for it. */
export interface LockEffects {
  /** Whether there is a process of that id. */
  readonly isRunning: (pid: number) => boolean;
  readonly ask: (port: number) => Promise<Answer>;
}

/** Another program holds the data folder. */
export class FolderHeld extends Error {
  override readonly name = 'FolderHeld';
  /** @param answers whether its page can be opened */
  constructor(
    folder: string,
    readonly holder: Holder,
    readonly answers: boolean,
  ) {
    const advice = answers ? '' : ' It does not answer: end that process, then start again.';
    super(
      `${folder} is in use by process ${holder.pid}, since ${holder.startedAt}, at ${urlOf(holder)}.${advice}`,
    );
  }

  /** Where the holder's page is. */
  get url(): string {
    return urlOf(this.holder);
  }
}

const urlOf = ({ port }: Holder): string => `http://127.0.0.1:${port}/`;

/** The lock's file in the data folder. */
const NAME = 'in-use.json';
/** How often taking the lock is tried: every time but the first, another program has changed it in between. */
const TRIES = 10;
/** Milliseconds that another program is given to write into the file that it made, or to close. */
const MOMENT = 200;
/** Milliseconds after which a lock that was made is looked at: see `takeAway`. */
const SETTLED = 50;

/**
 * Holds a data folder for this process, so that no two programs write there. A lock whose process is gone, or has nothing at
 * its port, was left by a crash and is taken over.
 *
 * @param port where this process answers with `id`
 * @returns what gives the folder free
 * @throws {FolderHeld}
 */
export async function holdFolder(
  folder: string,
  port: number,
  id: string,
  effects: LockEffects,
): Promise<() => Promise<void>> {
  const file = path.join(folder, NAME);
  const holder: Holder = { id, pid: process.pid, port, startedAt: new Date().toISOString() };
  const own = JSON.stringify(holder);
  await mkdir(folder, { recursive: true });
  for (let tries = 0; tries < TRIES; tries++) {
    await makeLock(file, own);
    const text = await writtenText(file);
    const held = holderOf(text);
    if (held?.id === id) {
      return async () => {
        if ((await textIfThere(file)) === own) await rm(file, { force: true });
      };
    }
    const standing = held ? await standingOf(held, effects) : 'left';
    if (held && standing !== 'left') throw new FolderHeld(folder, held, standing === 'answers');
    if (text !== null) await takeAway(file, text);
  }
  throw new Error(`${file} changes all the time: end the other programs that use the folder.`);
}

/** Makes the lock, unless there is one. */
async function makeLock(file: string, text: string): Promise<void> {
  try {
    await writeFlushed(file, text, 'wx');
    await pause(SETTLED);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return;
    // Made, but not written: a lock that says nothing would only make the next start wait.
    if (isFull(error)) await rm(file, { force: true });
    throw error;
  }
}

async function standingOf(
  held: Holder,
  { isRunning, ask }: LockEffects,
): Promise<'answers' | 'silent' | 'left'> {
  if (!isRunning(held.pid)) return 'left';
  let answer = await ask(held.port);
  if (answer === 'gone') {
    await pause(MOMENT);
    answer = await ask(held.port);
  }
  if (answer === 'silent') return 'silent';
  return answer !== 'gone' && answer.id === held.id ? 'answers' : 'left';
}

/** The lock's text, with time for who is writing it just now. */
async function writtenText(file: string): Promise<string | null> {
  const text = await textIfThere(file);
  if (text === null || holderOf(text)) return text;
  await pause(MOMENT);
  return textIfThere(file);
}

/**
 * Takes away the lock that has this text. Where several find the same one left, one of them may have put its own in its place
 * meanwhile: that is put back, over whatever was made in the short time between, whose maker looks for it later.
 */
async function takeAway(file: string, text: string): Promise<void> {
  const aside = `${file}.${randomUUID()}`;
  try {
    await rename(file, aside);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return;
    throw error;
  }
  if ((await textIfThere(aside)) === text) await rm(aside);
  else await rename(aside, file);
}

const pause = (milliseconds: number): Promise<void> => new Promise((done) => setTimeout(done, milliseconds));

function holderOf(text: string | null): Holder | null {
  try {
    return HolderSchema.safeParse(JSON.parse(text ?? '')).data ?? null;
  } catch {
    return null;
  }
}
