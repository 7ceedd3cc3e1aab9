import { useEffect, useState } from 'react';
import { Link } from 'wouter';
import { messageOf } from '../../app/faults/faults.ts';
import type { ReadingsReply } from '../../app/host/api.ts';
import { ADDRESS } from '../addresses.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { ClassReadings } from './ClassReadings.tsx';
import { PersonsReadings } from './PersonsReadings.tsx';

/** Readings held against their truth, over time: of who is chosen, and for the instructor of the class. */
export function Readings() {
  const { people } = useKnown();
  const [found, setFound] = useState<ReadingsReply | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    api.readings().then(setFound, (error: unknown) => setFailed(messageOf(error)));
  }, [people.chosen]);
  const names = new Map(people.trainees.map(({ id, name }) => [id, name]));
  const own = found?.find(({ trainee }) => trainee === people.chosen)?.readings ?? [];
  const others = (found ?? []).flatMap(({ trainee, readings }) => {
    const name = trainee === null ? undefined : names.get(trainee);
    return name !== undefined && readings.length > 0 ? [{ name, readings }] : [];
  });
  return (
    <section className="progress" aria-labelledby="readings">
      <h2 id="readings">Readings against the truth</h2>
      <p className="hint">
        From <Link href={ADDRESS.bench}>the bench</Link>, simulated residents, and what an instructor
        measured. A reading here is a number that was recorded or said, not proof of how it was taken.
      </p>
      {failed !== '' && <p role="alert">{failed}</p>}
      {failed === '' && !found && <p>Opening…</p>}
      {found && <PersonsReadings readings={own} />}
      {people.isInstructor && others.length > 1 && <ClassReadings people={others} />}
    </section>
  );
}
