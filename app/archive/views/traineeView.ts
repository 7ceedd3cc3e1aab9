import { CAUTION } from '../../marking/result.ts';
import type { Seen } from '../store/connection.ts';
import type { Asked, TraineeReply } from './api.ts';
import { stepResults } from './attempts.ts';
import { stepsOf } from './steps.ts';
import { spanOf } from './time.ts';

/** How many tries are looked back on, the latest ones. */
const LATEST = 200;

/**
 * A trainee's tries of one skill.
 *
 * @returns null where there is no such person, or not for who asks
 */
export async function readTrainee(
  db: Seen,
  personId: string,
  { skill, ...asked }: Asked & { readonly skill: string },
): Promise<TraineeReply | null> {
  const person = await db.selectFrom('people').select('name').where('id', '=', personId).executeTakeFirst();
  if (!person) return null;
  const { from, to } = spanOf(asked);
  const tries = await db
    .selectFrom('tried')
    .select(['attempt_id', 'started_at', 'passed', 'step_ids', 'marks', 'measured'])
    .where('skill', '=', skill)
    .where('person_id', '=', personId)
    .where('started_at', '>=', from)
    .where('started_at', '<', to)
    .orderBy('started_at', 'desc')
    .limit(LATEST)
    .execute();
  const steps = await stepsOf(db, [...new Set(tries.flatMap(({ step_ids }) => step_ids))]);
  const known = new Map(steps.map((step) => [step.id, step]));
  const attempts = tries.reverse().map(({ attempt_id, started_at, passed, step_ids, marks, measured }) => ({
    id: attempt_id,
    trainee: person.name,
    startedAt: started_at.toISOString(),
    skill,
    title: skill,
    steps: stepResults(known, step_ids, marks),
    passed,
    ...measured,
  }));
  return { name: person.name, attempts, caution: CAUTION };
}
