import { useState } from 'react';
import type { Trainee } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { ChangeAnswer, consentOf } from './ChangeAnswer.tsx';
import { TraineeForm } from './TraineeForm.tsx';

/** Everybody who rehearses on this machine: named, and deleted with all that is kept of them. */
export function PeopleList() {
  const { trainees } = useKnown().people;
  return (
    <section className="panel" aria-labelledby="people">
      <h2 id="people">People</h2>
      {trainees.length === 0 && <p>Nobody was added yet. People are added where they choose a skill.</p>}
      <ul className="people">
        {trainees.map((trainee) => (
          <Person key={trainee.id} trainee={trainee} />
        ))}
      </ul>
    </section>
  );
}

function Person({ trainee }: { readonly trainee: Trainee }) {
  const { allRehearsals, refresh, fail } = useKnown();
  const [doing, setDoing] = useState<'nothing' | 'renaming' | 'deleting'>('nothing');
  const count = allRehearsals.filter((each) => each.trainee === trainee.id).length;
  const after = (work: Promise<void>): Promise<void> =>
    work.then(refresh, fail).finally(() => setDoing('nothing'));
  const { id, name } = trainee;
  if (doing === 'renaming')
    return (
      <li>
        <TraineeForm
          action="Save"
          start={trainee}
          onDone={(entered) => after(api.renameTrainee(id, entered))}
          onCancel={() => setDoing('nothing')}
        />
      </li>
    );
  return (
    <li>
      <p>
        <strong>{name}</strong>
        {trainee.class !== '' && `, ${trainee.class}`}{' '}
        <span className="hint">
          {count} {count === 1 ? 'rehearsal' : 'rehearsals'}; {consentOf(trainee)}
        </span>
      </p>
      {doing === 'deleting' ? (
        <div className="actions" role="group" aria-label={`Delete ${name}?`}>
          <button type="button" className="button" onClick={() => void after(api.deleteTrainee(id))}>
            Delete {name} and all their rehearsals for good
          </button>
          <button type="button" className="button quiet" autoFocus onClick={() => setDoing('nothing')}>
            Keep
          </button>
        </div>
      ) : (
        <div className="actions">
          <button
            type="button"
            className="button quiet"
            aria-label={`Rename ${name}`}
            onClick={() => setDoing('renaming')}
          >
            Rename
          </button>
          <ChangeAnswer trainee={trainee} />
          <button
            type="button"
            className="button quiet"
            aria-label={`Delete ${name}`}
            onClick={() => setDoing('deleting')}
          >
            Delete
          </button>
        </div>
      )}
    </li>
  );
}
