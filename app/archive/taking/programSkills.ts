import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { sql } from 'kysely';
import type { Library } from '../../library/library.ts';
import type { Archive, Seen } from '../store/connection.ts';

/** Writes the program's own skills and their steps into the archive, where they are new or were changed under the same version. */
export function keepProgramSkills(archive: Archive, library: Library): Promise<void> {
  return archive.as({ role: 'keeper' }, async (db) => {
    await keepSources(db, library);
    const steps = [...library.skills.values()].flatMap(({ id: skill, version, steps }) =>
      steps.map(({ id: step, text, critical }) => ({ skill, version, step, text, critical })),
    );
    const column = <T>(of: (step: (typeof steps)[number]) => T): T[] => steps.map(of);
    await sql`
      insert into steps (skill, version, step, text, critical)
      select * from unnest(
        ${column((s) => s.skill)}::text[], ${column((s) => s.version)}::int[], ${column((s) => s.step)}::text[],
        ${column((s) => s.text)}::text[], ${column((s) => s.critical)}::boolean[])
      on conflict (school_id, skill, version, step) do update set text = excluded.text, critical = excluded.critical
      where (steps.text, steps.critical) is distinct from (excluded.text, excluded.critical)`.execute(db);
  });
}

async function keepSources(db: Seen, { skills, files }: Library): Promise<void> {
  for (const { id: skill, version } of skills.values()) {
    const file = files.get(skill);
    if (file === undefined) continue;
    const source = await readFile(file, 'utf8');
    const sha256 = createHash('sha256').update(source).digest('hex');
    await db
      .insertInto('skills')
      .values({ skill, version, sha256, source })
      .onConflict((conflict) =>
        conflict.columns(['school_id', 'skill', 'version']).doUpdateSet({ sha256, source }),
      )
      .execute();
  }
}
