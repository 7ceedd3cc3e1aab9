import { useEffect, useMemo, useState } from 'react';
import { Link, useLocation } from 'wouter';
import type { ClassAsked, People } from '../../app/host/api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import type { Attempt } from '../../app/progress/attempt.ts';
import { attemptsIn } from '../../app/progress/keptAttempt.ts';
import { ADDRESS } from '../addresses.ts';
import { api, classReportOf } from '../api.ts';
import { Filters } from '../found/Filters.tsx';
import { isWithin, type Wanted } from '../found/wanted.ts';
import { useKnown } from '../known.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { ReportActions } from '../report/ReportActions.tsx';
import { ClassProgress } from './ClassProgress.tsx';
import { SkillInTime } from './SkillInTime.tsx';

/** A skill looked at closely: how each trainee gets on with it, and the class where several have names. */
export function SkillProgress({ skill, wanted }: { readonly skill: string; readonly wanted: Wanted }) {
  const { library } = useKnown();
  const [, navigate] = useLocation();
  const { attempts, failed } = useAttempts(skill);
  const title = library.skills.find(({ id }) => id === skill)?.title ?? attempts?.[0]?.title ?? skill;
  return (
    <main className="page">
      <Heading>Progress: {title}</Heading>
      <p>
        <Link href={ADDRESS.rehearse(skill)}>Rehearse it</Link> or go{' '}
        <Link href={ADDRESS.progress}>back to all skills</Link>.
      </p>
      <Filters
        wanted={{ ...wanted, skill }}
        everySkill={null}
        onChange={(next) =>
          navigate(ADDRESS.skillProgress(next.skill, { ...next, skill: '' }), { replace: true })
        }
      />
      {failed !== '' && <p role="alert">{failed}</p>}
      {failed === '' && !attempts && <p>Opening…</p>}
      {attempts?.length === 0 && <p>The whole of this skill was not rehearsed yet.</p>}
      {attempts && attempts.length > 0 && <Attempts skill={skill} attempts={attempts} wanted={wanted} />}
      <Caution />
    </main>
  );
}

/** The attempts at a skill, asked for again whenever something changes; null before the first answer. */
function useAttempts(skill: string): { attempts: readonly Attempt[] | null; failed: string } {
  const { latest } = useKnown();
  const [attempts, setAttempts] = useState<readonly Attempt[] | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    let isWanted = true;
    api.attempts(skill).then(
      (reply) => isWanted && setAttempts(attemptsIn(reply)),
      (error: unknown) => isWanted && setFailed(messageOf(error)),
    );
    return () => {
      isWanted = false;
    };
  }, [skill, latest]);
  return { attempts, failed };
}

/** The attempts that are wanted, with names for ids, and the names of the class. */
function pick(
  attempts: readonly Attempt[],
  wanted: Wanted,
  { trainees }: People,
): { attempts: Attempt[]; members: string[] } {
  const inClass = trainees.filter((each) => wanted.class === '' || each.class === wanted.class);
  const names = new Map(inClass.map(({ id, name }) => [id, name]));
  const picked = attempts.filter(isWithin(wanted)).flatMap((attempt) => {
    const name = attempt.trainee && names.get(attempt.trainee);
    if (wanted.class !== '' && !name) return [];
    return [{ ...attempt, trainee: name ?? attempt.trainee }];
  });
  const tried = picked.flatMap(({ trainee }) => trainee ?? []);
  return { attempts: picked, members: wanted.class === '' ? [...new Set(tried)] : [...names.values()] };
}

/** What is wanted, as a class's report is asked for. */
const reported = ({ class: name, from, to }: Wanted): Pick<ClassAsked, 'class' | 'from' | 'to'> => ({
  ...(name !== '' && { class: name }),
  ...(from !== '' && { from }),
  ...(to !== '' && { to }),
});

function Attempts({
  skill,
  attempts: all,
  wanted,
}: {
  readonly skill: string;
  readonly attempts: readonly Attempt[];
  readonly wanted: Wanted;
}) {
  const { people } = useKnown();
  const { attempts, members } = useMemo(() => pick(all, wanted, people), [all, wanted, people]);
  return (
    <>
      <p role="status">
        {attempts.length} of {all.length} attempts.
      </p>
      {attempts.length > 0 && <OneTrainee attempts={attempts} />}
      {members.length > 1 && (
        <ClassProgress skill={skill} trainees={members} attempts={attempts} now={new Date().toISOString()} />
      )}
      {members.length > 1 && people.isInstructor && (
        <ReportActions
          addressOf={classReportOf({ skills: [skill], ...reported(wanted) })}
          name={`class-report-${skill}`}
        />
      )}
    </>
  );
}

/** One trainee's attempts in time: the first one's, until another is chosen. */
function OneTrainee({ attempts }: { readonly attempts: readonly Attempt[] }) {
  const people = useMemo(() => [...new Set(attempts.map(({ trainee }) => trainee))], [attempts]);
  const [chosen, choose] = useState<string | null | undefined>();
  const who = chosen !== undefined && people.includes(chosen) ? chosen : (people[0] ?? null);
  return (
    <>
      {people.length > 1 && (
        <label className="field">
          <span>Whose attempts</span>
          <select value={people.indexOf(who)} onChange={({ target }) => choose(people[Number(target.value)])}>
            {people.map((trainee, i) => (
              <option key={trainee} value={i}>
                {trainee ?? 'Nobody in particular'}
              </option>
            ))}
          </select>
        </label>
      )}
      <SkillInTime attempts={attempts.filter(({ trainee }) => trainee === who)} />
    </>
  );
}
