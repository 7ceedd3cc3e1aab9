import { useEffect, useState } from 'react';
import { Link } from 'wouter';
import { messageOf } from '../../app/faults/faults.ts';
import type { Attempt } from '../../app/progress/attempt.ts';
import { ADDRESS } from '../addresses.ts';
import { api, classReportOf } from '../api.ts';
import { useKnown } from '../known.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { ReportActions } from '../report/ReportActions.tsx';
import { ClassProgress } from './ClassProgress.tsx';
import { SkillInTime } from './SkillInTime.tsx';

/** A skill looked at closely: how each trainee gets on with it, and the class where several have names. */
export function SkillProgress({ skill }: { readonly skill: string }) {
  const { library, people } = useKnown();
  const [found, setFound] = useState<readonly Attempt[] | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    api.attempts(skill).then(setFound, (error: unknown) => setFailed(messageOf(error)));
  }, [skill]);
  const names = new Map(people.trainees.map(({ id, name }) => [id, name]));
  const attempts = found?.map((each) => ({
    ...each,
    trainee: each.trainee && (names.get(each.trainee) ?? each.trainee),
  }));
  const title = library.skills.find(({ id }) => id === skill)?.title ?? attempts?.[0]?.title ?? skill;
  return (
    <main className="page">
      <Heading>Progress: {title}</Heading>
      <p>
        <Link href={ADDRESS.rehearse(skill)}>Rehearse it</Link> or go{' '}
        <Link href={ADDRESS.progress}>back to all skills</Link>.
      </p>
      {failed !== '' && <p role="alert">{failed}</p>}
      {failed === '' && !attempts && <p>Opening…</p>}
      {attempts?.length === 0 && <p>The whole of this skill was not rehearsed yet.</p>}
      {attempts && attempts.length > 0 && <Attempts skill={skill} attempts={attempts} />}
      <Caution />
    </main>
  );
}

function Attempts({ skill, attempts }: { readonly skill: string; readonly attempts: readonly Attempt[] }) {
  const { isInstructor } = useKnown().people;
  const people = [...new Set(attempts.map(({ trainee }) => trainee))];
  const named = people.filter((trainee) => trainee !== null);
  const [who, choose] = useState(0);
  return (
    <>
      {people.length > 1 && (
        <label className="field">
          <span>Whose attempts</span>
          <select value={who} onChange={({ target }) => choose(Number(target.value))}>
            {people.map((trainee, i) => (
              <option key={trainee} value={i}>
                {trainee ?? 'Nobody in particular'}
              </option>
            ))}
          </select>
        </label>
      )}
      <SkillInTime attempts={attempts.filter(({ trainee }) => trainee === people[who])} />
      {named.length > 1 && (
        <ClassProgress skill={skill} trainees={named} attempts={attempts} now={new Date().toISOString()} />
      )}
      {named.length > 1 && isInstructor && (
        <ReportActions addressOf={classReportOf({ skills: [skill] })} name={`class-report-${skill}`} />
      )}
    </>
  );
}
