import { randomUUID } from 'node:crypto';
import { parseArgs } from 'node:util';
import { makeAccount } from '../../archive/serving/accounts.ts';
import { NewAccountSchema, type NewAccount } from '../../archive/serving/peopleApi.ts';
import type { Archive, Seen } from '../../archive/store/connection.ts';
import type { ExitCode, Io } from '../io.ts';
import { UsageError } from '../recorded/answering.ts';
import { keeping, warningTo } from './keeping.ts';
import { PLACE_OPTIONS, placeOf, withArchive } from './place.ts';

export const USAGE = `Usage: sinkside archive account add --school NAME --name NAME [--role school|instructor] [--class NAME …]

Makes an account and prints its token, once. The school and the classes are made where they are missing.
`;

const OPTIONS = {
  ...PLACE_OPTIONS,
  school: { type: 'string' },
  name: { type: 'string' },
  role: { type: 'string' },
  class: { type: 'string', multiple: true },
} as const;

/** `sinkside archive account add` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return keeping(io, async () => {
    const { values, positionals } = parseArgs({ args, allowPositionals: true, options: OPTIONS });
    const { school, name, role = 'school', class: classes = [] } = values;
    if (positionals.join(' ') !== 'add' || !school || !name || (role !== 'school' && role !== 'instructor'))
      throw new UsageError(USAGE);
    const token = await withArchive(placeOf(values), warningTo(io), (archive) =>
      addAccount(archive, school, classes, { role, name }),
    );
    io.out(`${token}\n`);
    io.err('This is the token of the account, and it is shown this once. Keep it as you would a key.\n');
  });
}

/** Makes an account, and gives its token. */
export function addAccount(
  archive: Archive,
  school: string,
  classes: readonly string[],
  { role, name }: Pick<NewAccount, 'name'> & { readonly role: 'school' | 'instructor' },
): Promise<string> {
  return archive.as({ role: 'keeper' }, async (db) => {
    const id = await schoolNamed(db, school);
    const ids: string[] = [];
    for (const each of classes) ids.push(await classNamed(db, id, each));
    const account = NewAccountSchema.parse(role === 'school' ? { role, name } : { role, name, classes: ids });
    return (await makeAccount(db, id, account)).token;
  });
}

async function schoolNamed(db: Seen, name: string): Promise<string> {
  const there = await db.selectFrom('schools').select('id').where('name', '=', name).executeTakeFirst();
  if (there) return there.id;
  const id = randomUUID();
  await db.insertInto('schools').values({ id, name }).execute();
  return id;
}

async function classNamed(db: Seen, school_id: string, name: string): Promise<string> {
  const found = db.selectFrom('classes').select('id').where('school_id', '=', school_id);
  const there = await found.where('name', '=', name).executeTakeFirst();
  if (there) return there.id;
  const id = randomUUID();
  await db.insertInto('classes').values({ id, school_id, name }).execute();
  return id;
}
