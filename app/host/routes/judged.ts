import { Hono } from 'hono';
import { agreementOf } from '../../agreement/agreement.ts';
import { pairsOf, type Pair } from '../../agreement/pairs.ts';
import { shelfOf, skillAt, type Library } from '../../library/library.ts';
import { BEFORE, fold, type State } from '../../marking/state.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import { attemptOf, type Attempt } from '../../progress/attempt.ts';
import type { Kept } from '../../records/kept.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { reviewOf, withoutReviewers, type Review } from '../../review/review.ts';
import { byItself, foldRun, NO_RUN } from '../../run/runState.ts';
import { planOf } from '../../run/testPlan.ts';
import { makeChecklist, UnknownVariant, type Checklist } from '../../skills/checklist.ts';
import { CannotDraw } from '../../skills/draw.ts';
import type { AttemptsReply, AgreementReply } from '../api.ts';
import { checkInstructor, maySee, viewerOf, type Viewer } from '../people/viewer.ts';
import type { Env } from '../request.ts';

/** How many attempts at a skill are looked back on, the latest ones: each is read and marked for the answer. */
const LATEST = 200;

/** What follows from all that is kept: how skills went over time, and how far persons agree with the machine. */
export const judgedRoutes = (rehearsals: Rehearsals, library: Library, area: InstructorsArea): Hono<Env> =>
  new Hono<Env>()
    .get('/api/attempts/:skill', async (c) => {
      const viewer = await viewerOf(c, area);
      const reply = await readAttempts(rehearsals, library, c.req.param('skill'), viewer);
      return c.json(reply satisfies AttemptsReply);
    })
    .get('/api/agreement', async (c) => {
      checkInstructor(await viewerOf(c, area));
      const { pairs, leftOut } = await readPairs(rehearsals, library);
      return c.json({ agreement: agreementOf(pairs), leftOut } satisfies AgreementReply);
    });

/** What can be compared of every reviewed rehearsal, and why some could not be. */
export async function readPairs(
  rehearsals: Rehearsals,
  library: Library,
): Promise<{ pairs: Pair[]; leftOut: string[] }> {
  const pairs: Pair[] = [];
  const leftOut: string[] = [];
  for (const { id } of await rehearsals.list()) {
    const kept = await rehearsals.read(id);
    if (!kept.events.some(({ type }) => type === 'reviewed')) continue;
    try {
      const about = { attempt: id, engine: kept.header.engine };
      for (const { checklist, state, review } of judgedIn(kept, library))
        pairs.push(...pairsOf(about, checklist, state, review));
    } catch (error) {
      if (!(error instanceof UnknownVariant) && !(error instanceof CannotDraw)) throw error;
      leftOut.push(`${id}: ${error.message}`);
    }
  }
  return { pairs, leftOut };
}

/** The latest attempts that may be seen at the whole of a skill, alone or in a test, the newest first. What persons said is for the instructor. */
export async function readAttempts(
  rehearsals: Rehearsals,
  library: Library,
  skill: string,
  viewer: Viewer,
): Promise<Attempt[]> {
  const own = (await rehearsals.list())
    .filter(
      ({ skills, trainee }) => skills.some((each) => each.skill === skill) && maySee(viewer, trainee ?? null),
    )
    .slice(0, LATEST);
  const attempts: Attempt[] = [];
  for (const { id, startedAt, trainee = null } of own)
    for (const { checklist, state, review } of judgedIn(seenOf(await rehearsals.read(id), viewer), library))
      if (checklist.skill.id === skill)
        attempts.push(attemptOf({ id, startedAt, trainee }, checklist, state, review));
  return attempts;
}

/** What a viewer may see of a rehearsal: reviews are for the instructor. */
export const seenOf = (kept: Kept, { isInstructor }: Viewer): Kept =>
  isInstructor ? kept : { ...kept, events: withoutReviewers(kept.events) };

/** One skill of a rehearsal: what the machine marks it by, and what a person said of it. */
export interface Judged {
  readonly checklist: Checklist;
  readonly state: State;
  readonly review: Review;
}

/**
 * The skills of a rehearsal: one, or those of a test that were reached.
 *
 * @throws {UnknownVariant} its skill is gone, or has no such variant any more
 * @throws {CannotDraw} the same of a test
 */
export function judgedIn({ header, events }: Kept, library: Library): Judged[] {
  const drawn = events.find((event) => event.type === 'drawn');
  if (drawn) {
    const { checklists } = planOf(shelfOf(library), drawn);
    const { runs } = events.reduce(foldRun, NO_RUN);
    return runs.flatMap((run, i) => {
      const checklist = checklists[i];
      return checklist ? [{ checklist, state: byItself(run), review: reviewOf(events, i) }] : [];
    });
  }
  const skill = skillAt(library, header.skill, header.version);
  if (!skill) throw new UnknownVariant(`There is no skill "${header.skill}" any more.`);
  const checklist = makeChecklist(skill, library.lexicon, library.rules, header.variants);
  return [{ checklist, state: events.reduce(fold, BEFORE), review: reviewOf(events) }];
}
