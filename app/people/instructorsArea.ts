import { randomUUID } from 'node:crypto';
import { mkdir, rm } from 'node:fs/promises';
import path from 'node:path';
import { replaceFile, textIfThere } from '../disk/wholeFile.ts';
import { Guesses } from './guesses.ts';
import { isPassphrase, keepPassphrase, KeptPassphraseSchema, type KeptPassphrase } from './passphrase.ts';

/** A session ends after so many ms without use. */
export const IDLE = 30 * 60_000;

/** The passphrase is not the one that is set. */
export class WrongPassphrase extends Error {
  override readonly name = 'WrongPassphrase';
  constructor() {
    super('This is not the passphrase.');
  }
}

/** A passphrase was tried too soon after a wrong one. */
export class TooSoon extends Error {
  override readonly name = 'TooSoon';
  /** @param wait ms to wait */
  constructor(wait: number) {
    super(`After a wrong passphrase, ${Math.ceil(wait / 1000)} s more must pass.`);
  }
}

/** Only who is in the instructor's area may do this. */
export class InstructorOnly extends Error {
  override readonly name = 'InstructorOnly';
  constructor() {
    super('This is for the instructor.');
  }
}

/**
 * The instructor's area: behind a passphrase once one is set, open to all before. The passphrase's key is in
 * DATA/instructor.json, which is read whenever it counts: who deletes it has reset the area. Sessions are in memory only.
 */
export class InstructorsArea {
  private readonly file: string;
  private readonly guesses: Guesses;
  /** When each session, by its token, was used last. */
  private readonly sessions = new Map<string, number>();

  /** @param now ms since 1970 */
  constructor(
    private readonly data: string,
    private readonly now: () => number = Date.now,
  ) {
    this.file = path.join(data, 'instructor.json');
    this.guesses = new Guesses(now);
  }

  async isSet(): Promise<boolean> {
    return (await textIfThere(this.file)) !== null;
  }

  /** Whether a token is that of a session; uses it. */
  isIn(token: string): boolean {
    const used = this.sessions.get(token);
    if (used === undefined) return false;
    if (this.now() - used >= IDLE) return !this.sessions.delete(token);
    this.sessions.set(token, this.now());
    return true;
  }

  /** Whether who has this token may do what the instructor may. */
  async isOpenTo(token: string): Promise<boolean> {
    return this.isIn(token) || !(await this.isSet());
  }

  /**
   * Begins a session and gives its token.
   *
   * @throws {WrongPassphrase}
   * @throws {TooSoon} the passphrase was not looked at
   */
  async enter(passphrase: string): Promise<string> {
    const text = await textIfThere(this.file);
    if (text === null) return this.begin();
    const kept = this.keptIn(text);
    const wait = this.guesses.take();
    if (wait > 0) throw new TooSoon(wait);
    if (!(await isPassphrase(passphrase, kept))) {
      this.guesses.wrong();
      throw new WrongPassphrase();
    }
    this.guesses.right();
    return this.begin();
  }

  leave(token: string): void {
    this.sessions.delete(token);
  }

  /** Sets the passphrase, ends all sessions, begins one and gives its token. */
  async set(passphrase: string): Promise<string> {
    const kept = await keepPassphrase(passphrase);
    await mkdir(this.data, { recursive: true });
    await replaceFile(this.file, `${JSON.stringify(kept)}\n`);
    this.sessions.clear();
    return this.begin();
  }

  /** Takes the passphrase away: the area is open to all. */
  async open(): Promise<void> {
    await rm(this.file, { force: true });
    this.sessions.clear();
  }

  private begin(): string {
    const token = randomUUID();
    this.sessions.set(token, this.now());
    return token;
  }

  private keptIn(text: string): KeptPassphrase {
    try {
      return KeptPassphraseSchema.parse(JSON.parse(text));
    } catch {
      throw new Error(`${this.file} is damaged, so no passphrase fits. Delete it, then set a new one.`);
    }
  }
}
