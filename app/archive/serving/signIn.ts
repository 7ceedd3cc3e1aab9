import type { Archive } from '../store/connection.ts';
import type { Who } from '../store/who.ts';
import { hashOf } from './secrets.ts';

/** Who has signed in: an account, or a station. */
export type SignedIn = Exclude<Who, { readonly role: 'door' | 'worker' | 'keeper' }>;

/** Who it is, and what they are called. */
export interface Known {
  readonly who: SignedIn;
  readonly name: string;
}

/** Who has this token or key; null for nobody, and where it was revoked. */
export function signIn(archive: Archive, secret: string): Promise<Known | null> {
  const secretSha256 = hashOf(secret);
  return archive.as({ role: 'door', secretSha256 }, async (db) => {
    const account = await db
      .selectFrom('accounts')
      .select(['id', 'school_id', 'role', 'name', 'person_id'])
      .where('token_sha256', '=', secretSha256)
      .where('revoked_at', 'is', null)
      .executeTakeFirst();
    if (account) return { who: whoOf(account), name: account.name };
    const station = await db
      .selectFrom('stations')
      .select(['id', 'school_id', 'name'])
      .where('key_sha256', '=', secretSha256)
      .where('revoked_at', 'is', null)
      .executeTakeFirst();
    if (!station) return null;
    const { id, school_id: school, name } = station;
    return { who: { role: 'station', station: id, school }, name };
  });
}

function whoOf(account: {
  id: string;
  school_id: string;
  role: 'trainee' | 'instructor' | 'school';
  person_id: string | null;
}): SignedIn {
  const { id, school_id: school, role, person_id: person } = account;
  if (role !== 'trainee') return { role, account: id, school };
  if (person === null) throw new Error('A trainee’s account has no person.');
  return { role, account: id, school, person };
}
