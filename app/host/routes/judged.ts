import { Hono } from 'hono';
import { agreementOf } from '../../agreement/agreement.ts';
import { pairsOf, type Pair } from '../../agreement/pairs.ts';
import { skillAt, type Library } from '../../library/library.ts';
import type { InstructorsArea } from '../../people/instructorsArea.ts';
import type { SkillWords } from '../../progress/keptAttempt.ts';
import { judgedIn } from '../../records/judged.ts';
import type { Report } from '../../records/index/rehearsalIndex.ts';
import type { Kept } from '../../records/kept.ts';
import { isUnmarkable } from '../../records/marker.ts';
import type { Rehearsals } from '../../records/rehearsals.ts';
import { withoutReviewers } from '../../review/review.ts';
import type { Skill } from '../../skills/skill.ts';
import type { AttemptsReply, AgreementReply } from '../api.ts';
import { checkInstructor, maySee, viewerOf, type Viewer } from '../people/viewer.ts';
import type { Env } from '../request.ts';

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

/**
 * What can be compared of every reviewed rehearsal, and why some could not be. Only those that were reviewed are read, but where the
 * index must be made first: `report` hears how far it is with that.
 */
export async function readPairs(
  rehearsals: Rehearsals,
  library: Library,
  report?: Report,
): Promise<{ pairs: Pair[]; leftOut: string[] }> {
  const pairs: Pair[] = [];
  const leftOut: string[] = [];
  const reviewed = (await rehearsals.entries(report)).filter(({ isReviewed }) => isReviewed);
  for (const { id } of reviewed.map(({ summary }) => summary)) {
    const kept = await rehearsals.read(id);
    try {
      const about = { attempt: id, engine: kept.header.engine };
      for (const { checklist, state, review } of judgedIn(kept, library))
        pairs.push(...pairsOf(about, checklist, state, review));
    } catch (error) {
      if (!isUnmarkable(error)) throw error;
      leftOut.push(`${id}: ${error.message}`);
    }
  }
  return { pairs, leftOut };
}

/** What a viewer may see of a rehearsal: reviews are for the instructor. */
export const seenOf = (kept: Kept, { isInstructor }: Viewer): Kept =>
  isInstructor ? kept : { ...kept, events: withoutReviewers(kept.events) };

/** The attempts that may be seen at the whole of a skill, alone or in a test, the newest first. What persons said is for the instructor. */
export async function readAttempts(
  rehearsals: Rehearsals,
  library: Library,
  skill: string,
  viewer: Viewer,
): Promise<AttemptsReply> {
  const { entries, reading } = await rehearsals.glance();
  const attempts = entries.flatMap(({ summary: { id, startedAt, trainee = null }, attempts: own }) => {
    if (!maySee(viewer, trainee)) return [];
    return own
      .filter(({ byMachine }) => byMachine.skill === skill)
      .map(({ byMachine, byPerson = byMachine }) => {
        return { id, startedAt, trainee, ...(viewer.isInstructor ? byPerson : byMachine) };
      });
  });
  const numbers = new Set(attempts.map(({ version }) => version));
  const versions = [...numbers].flatMap((version): SkillWords[] => {
    const words = skillAt(library, skill, version);
    return words?.version === version ? [wordsOf(words)] : [];
  });
  return { versions, attempts, reading };
}

const wordsOf = ({ version, title, steps }: Skill): SkillWords => ({
  version,
  title,
  steps: steps.map(({ id, text, critical }) => ({ id, text, critical })),
});
