import { useState } from 'react';
import type { Trainee } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { localDay } from '../words.ts';
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

const consentOf = ({ consent }: Trainee): string => {
  if (!consent) return 'not asked yet whether sound may be kept';
  return `${consent.agreed ? 'sound may be kept' : 'sound is not kept'}, decided ${localDay(consent.at)}`;
};

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
          {trainee.consent && <ChangeAnswer trainee={trainee} onChange={after} />}
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

/** Changes a person's answer. Sound that is kept stays until it is deleted. */
export function ChangeAnswer({
  trainee: { id, name, consent },
  onChange,
}: {
  readonly trainee: Trainee;
  readonly onChange: (work: Promise<void>) => unknown;
}) {
  const next = !consent?.agreed;
  const action = next ? 'Allow sound' : 'Keep no more sound';
  return (
    <button
      type="button"
      className="button quiet"
      aria-label={`${action} of ${name}`}
      onClick={() => onChange(api.decide(id, next))}
    >
      {action}
    </button>
  );
}
