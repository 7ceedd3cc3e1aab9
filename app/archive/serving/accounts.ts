import { randomUUID } from 'node:crypto';
import type { Seen } from '../store/connection.ts';
import type { NewAccount } from './peopleApi.ts';
import { notThere } from './refused.ts';
import { hashOf, newSecret } from './secrets.ts';

/** An account's id and its token, which is known from now on to who holds it alone. */
export interface NewToken {
  readonly id: string;
  readonly token: string;
}

/** Makes an account. What who makes it may not make, the database refuses. */
export async function makeAccount(db: Seen, school: string, account: NewAccount): Promise<NewToken> {
  const { role, name } = account;
  const id = randomUUID();
  const token = newSecret();
  const person_id = role === 'trainee' ? account.person : null;
  await db
    .insertInto('accounts')
    .values({ id, school_id: school, role, name, person_id, token_sha256: hashOf(token) })
    .execute();
  if (role === 'instructor') await giveClasses(db, id, account.classes);
  return { id, token };
}

/** Gives an instructor's account other classes. */
export async function giveClasses(db: Seen, account: string, classes: readonly string[]): Promise<void> {
  await db.deleteFrom('account_classes').where('account_id', '=', account).execute();
  const rows = [...new Set(classes)].map((class_id) => ({ account_id: account, class_id }));
  if (rows.length > 0) await db.insertInto('account_classes').values(rows).execute();
}

/** Gives an account a new token: the one before ends. */
export async function renewToken(db: Seen, id: string): Promise<NewToken> {
  const token = newSecret();
  const { numUpdatedRows } = await db
    .updateTable('accounts')
    .set({ token_sha256: hashOf(token), revoked_at: null })
    .where('id', '=', id)
    .executeTakeFirst();
  if (numUpdatedRows === 0n) throw notThere('account');
  return { id, token };
}
