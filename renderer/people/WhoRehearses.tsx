import { useId, useState } from 'react';
import type { NewTrainee } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { ChangeAnswer, consentOf } from './ChangeAnswer.tsx';
import { chooseTrainee } from './right.ts';
import { TraineeForm } from './TraineeForm.tsx';

/** Who rehearses: chosen among the trainees on this machine, or added. */
export function WhoRehearses() {
  const { people, refresh, fail } = useKnown();
  const [isAdding, setAdding] = useState(false);
  const id = useId();
  const chosen = people.trainees.find((trainee) => trainee.id === people.chosen);
  const choose = (trainee: string | null): void => {
    chooseTrainee(trainee);
    void refresh();
  };
  const add = async (entered: NewTrainee): Promise<void> => {
    const { id: added } = await api.addTrainee(entered);
    setAdding(false);
    choose(added);
  };
  return (
    <section className="who" aria-label="Who rehearses">
      <div className="who-row">
        <label htmlFor={id}>Who rehearses?</label>
        <select id={id} value={people.chosen ?? ''} onChange={({ target }) => choose(target.value || null)}>
          <option value="">Nobody in particular</option>
          {people.trainees.map((trainee) => (
            <option key={trainee.id} value={trainee.id}>
              {trainee.name}
              {trainee.class !== '' && ` (${trainee.class})`}
            </option>
          ))}
        </select>
        {!isAdding && (
          <button type="button" className="button quiet" onClick={() => setAdding(true)}>
            Add a person
          </button>
        )}
      </div>
      {chosen && (
        <p className="hint">
          {chosen.name}: {consentOf(chosen)}. <ChangeAnswer trainee={chosen} />
        </p>
      )}
      {isAdding && (
        <TraineeForm
          action="Add"
          onDone={(entered) => add(entered).catch(fail)}
          onCancel={() => setAdding(false)}
        />
      )}
    </section>
  );
}
