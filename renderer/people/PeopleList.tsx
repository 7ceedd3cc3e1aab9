import { useState } from 'react';
import type { Trainee } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { ChangeAnswer, consentOf } from './ChangeAnswer.tsx';
import { TraineeForm } from './TraineeForm.tsx';

/** People that are shown at first, and more each time that is asked for. */
const SHOWN = 30;

/** Everybody who rehearses on this machine: named, and deleted with all that is kept of them. */
export function PeopleList({
  inClass,
}: {
  /** Name of the class that is shown alone; empty for everybody. */
  readonly inClass: string;
}) {
  const all = useKnown().people.trainees;
  const trainees = all.filter((each) => inClass === '' || each.class === inClass);
  const [most, setMost] = useState(SHOWN);
  const rest = trainees.length - most;
  return (
    <section className="panel" aria-labelledby="people">
      <h2 id="people">People</h2>
      {all.length === 0 && <p>Nobody was added yet. People are added where they choose a skill.</p>}
      <ul className="people">
        {trainees.slice(0, most).map((trainee) => (
          <Person key={trainee.id} trainee={trainee} />
        ))}
      </ul>
      {rest > 0 && (
        <button type="button" className="button" onClick={() => setMost(most + SHOWN)}>
          Show {Math.min(rest, SHOWN)} more of {trainees.length} people
        </button>
      )}
    </section>
  );
}

function Person({ trainee }: { readonly trainee: Trainee }) {
  const { latest, refresh, fail } = useKnown();
  const [doing, setDoing] = useState<'nothing' | 'renaming' | 'deleting'>('nothing');
  const count = latest.counts[trainee.id] ?? 0;
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
