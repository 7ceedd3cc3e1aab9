import type { Context } from 'hono';
import type { Seen } from '../store/connection.ts';
import type { Env } from './request.ts';
import type { SignedIn } from './signIn.ts';

type Role = SignedIn['role'];
type As<R extends Role> = SignedIn & { readonly role: R };

/** A request of somebody who has signed in and may ask this. */
export interface Asked<R extends Role> {
  readonly c: Context<Env>;
  readonly who: As<R>;
  /** What they are called. */
  readonly name: string;
  /** Does something as them, in one transaction that the audit log tells of. */
  seen<T>(work: (db: Seen) => Promise<T>): Promise<T>;
}

/** One thing that can be asked of the archive. */
export interface Route {
  readonly method: 'GET' | 'POST' | 'PUT' | 'DELETE';
  readonly path: string;
  /** Who may ask it. What they then see is up to the database. */
  readonly roles: readonly Role[];
  readonly answer: (asked: Asked<Role>) => Promise<Response>;
}

/** Whom most is for. */
export const TEACHERS = ['instructor', 'school'] as const;
export const PEOPLE = ['trainee', ...TEACHERS] as const;

/** `route('GET', '/api/…', roles, answer)` */
export function route<R extends Role>(
  method: Route['method'],
  path: string,
  roles: readonly R[],
  answer: (asked: Asked<R>) => Promise<Response>,
): Route {
  const isOne = (who: SignedIn): who is As<R> => (roles as readonly Role[]).includes(who.role);
  return {
    method,
    path,
    roles,
    answer: async (asked) => {
      const { who } = asked;
      // The gate has looked already; this tells the compiler so.
      if (!isOne(who)) throw new Error(`${method} ${path} was asked by a ${who.role}.`);
      return answer({ ...asked, who });
    },
  };
}

/** An answer without a body. */
export const done = (): Response => new Response(null, { status: 204 });
