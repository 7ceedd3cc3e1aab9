import type { Context } from 'hono';
import { note } from '../../store/audit.ts';
import type { Archive, Seen } from '../../store/connection.ts';
import { Buckets, type Limits } from './limits.ts';
import { Refused } from '../refused.ts';
import type { Env } from '../request.ts';
import type { Route } from '../route.ts';
import { hashOf } from '../secrets.ts';
import { signIn, type Known } from '../signIn.ts';

/** Lets in who has signed in, and to each what is for them. */
export class Gate {
  private readonly addresses: Buckets;
  private readonly tokens: Buckets;
  private readonly wrong: Buckets;

  /** @param isBehindProxy whether a proxy in front tells whom it asks for: then its word is taken */
  constructor(
    private readonly archive: Archive,
    limits: Limits,
    private readonly isBehindProxy: boolean,
  ) {
    this.addresses = new Buckets(limits.address);
    this.tokens = new Buckets(limits.token);
    this.wrong = new Buckets(limits.wrong);
  }

  /** Answers a request if who asks may ask it. Throws {@link Refused}. */
  async pass(c: Context<Env>, route: Route): Promise<Response> {
    const { who, name } = await this.knownIn(c);
    const did = `${route.method} ${route.path}`;
    const what = c.req.path;
    if (!route.roles.includes(who.role)) {
      await this.archive.as(who, (db) => note(db, who, `refused: ${did}`, what));
      throw new Refused(403, `This is not for a ${who.role} to do.`, 'Ask somebody of the school.');
    }
    const seen = <T>(work: (db: Seen) => Promise<T>): Promise<T> =>
      this.archive.as(who, async (db) => {
        await note(db, who, did, what);
        return work(db);
      });
    return route.answer({ c, who, name, seen });
  }

  /** Does something for somebody who has not signed in; where it gives null, that was one wrong try of theirs. */
  async guess<T>(c: Context<Env>, work: () => Promise<T | null>): Promise<T | null> {
    this.check(this.addresses.take(this.addressOf(c)));
    const address = this.addressOf(c);
    this.check(this.wrong.wait(address));
    const done = await work();
    if (done === null) this.wrong.take(address);
    return done;
  }

  private async knownIn(c: Context<Env>): Promise<Known> {
    const [, secret] = /^Bearer ([\w-]{20,200})$/i.exec(c.req.header('authorization') ?? '') ?? [];
    const known = await this.guess(c, async () =>
      secret === undefined ? null : signIn(this.archive, secret),
    );
    if (secret === undefined || known === null)
      throw new Refused(401, 'Nobody has this token.', 'Sign in again, or ask the school for a new token.');
    this.check(this.tokens.take(hashOf(secret)));
    return known;
  }

  private check(seconds: number): void {
    if (seconds > 0) throw new Refused(429, 'That was too much at once.', `Wait ${seconds} s.`, seconds);
  }

  private addressOf(c: Context<Env>): string {
    // The last one is what the proxy itself has seen; whoever asks can make up those before.
    const told = this.isBehindProxy ? c.req.header('x-forwarded-for')?.split(',').at(-1)?.trim() : undefined;
    return told ?? c.env.incoming.socket.remoteAddress ?? '';
  }
}
