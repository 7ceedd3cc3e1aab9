import type { Seen } from './connection.ts';
import type { Who } from './who.ts';

/** Writes into the audit log who did what. Nobody can change it there. */
export async function note(
  db: Seen,
  who: Exclude<Who, { readonly role: 'door' | 'worker' | 'keeper' }>,
  did: string,
  what: string,
): Promise<void> {
  const id = who.role === 'station' ? who.station : who.account;
  await db
    .insertInto('audit_log')
    .values({ school_id: who.school, who: `${who.role} ${id}`, did, what })
    .execute();
}
