import { notThere, Refused } from '../serving/refused.ts';
import { readQuery, readUuid } from '../serving/request.ts';
import { route, TEACHERS, type Route } from '../serving/route.ts';
import type { SignedIn } from '../serving/signIn.ts';
import type { Seen } from '../store/connection.ts';
import type { SchoolLibraries } from '../taking/schoolLibrary.ts';
import type { Taking } from '../taking/takeIn.ts';
import { readAcross } from './acrossSchools.ts';
import {
  AskedSchema,
  type AcrossReply,
  type Asked,
  type ChoicesReply,
  type ClassReply,
  type SchoolReply,
  type TraineeReply,
} from './api.ts';
import { readClass } from './classView.ts';
import { readSchool } from './schoolView.ts';
import { readTrainee } from './traineeView.ts';

/**
 * What instructors and schools look back on; `api.ts` says what is answered.
 *
 *     GET /api/views/choices                          ChoicesReply
 *     GET /api/views/classes/:id?skill=…&from=…&to=…&after=…   ClassReply
 *     GET /api/views/people/:id?skill=…&from=…&to=…   TraineeReply
 *     GET /api/views/schools/:id?skill=…&from=…&to=… SchoolReply
 *     GET /api/views/across?skill=…                   AcrossReply
 */
export const viewRoutes = ({ libraries }: Pick<Taking, 'libraries'>): Route[] => [
  route('GET', '/api/views/choices', TEACHERS, async ({ c, who, seen }) =>
    c.json((await seen((db) => readChoices(db, who, libraries))) satisfies ChoicesReply),
  ),
  route('GET', '/api/views/classes/:id', TEACHERS, async ({ c, seen }) => {
    const asked = withSkill(readQuery(c, AskedSchema));
    const reply = await seen((db) => readClass(db, readUuid(c), asked));
    if (!reply) throw notThere('class');
    return c.json(reply satisfies ClassReply);
  }),
  route('GET', '/api/views/people/:id', TEACHERS, async ({ c, seen }) => {
    const asked = withSkill(readQuery(c, AskedSchema));
    const reply = await seen((db) => readTrainee(db, readUuid(c), asked));
    if (!reply) throw notThere('person');
    return c.json(reply satisfies TraineeReply);
  }),
  route('GET', '/api/views/schools/:id', TEACHERS, async ({ c, seen }) => {
    const asked = readQuery(c, AskedSchema);
    const reply = await seen((db) => readSchool(db, readUuid(c), asked, new Date().toISOString()));
    if (!reply) throw notThere('school');
    return c.json(reply satisfies SchoolReply);
  }),
  route('GET', '/api/views/across', TEACHERS, async ({ c, seen }) => {
    const { skill } = withSkill(readQuery(c, AskedSchema));
    return c.json((await seen((db) => readAcross(db, skill))) satisfies AcrossReply);
  }),
];

function withSkill(asked: Asked): Asked & { readonly skill: string } {
  const { skill } = asked;
  if (skill === undefined)
    throw new Refused(400, 'No skill was named.', 'Add ?skill= and the id of a skill.');
  return { ...asked, skill };
}

async function readChoices(
  db: Seen,
  { role, school }: SignedIn,
  libraries: SchoolLibraries,
): Promise<ChoicesReply> {
  const classes = await db.selectFrom('classes').select(['id', 'name']).orderBy('name').execute();
  const tried = await db
    .selectFrom('skill_months')
    .select('skill')
    .distinct()
    .where('school_id', '=', school)
    .execute();
  const { library } = await libraries.of(db, school);
  const skills = tried.map(({ skill }) => ({ id: skill, title: library.skills.get(skill)?.title ?? skill }));
  return {
    role: role === 'school' ? 'school' : 'instructor',
    school,
    classes,
    skills: skills.sort((a, b) => a.title.localeCompare(b.title, 'en')),
  };
}
