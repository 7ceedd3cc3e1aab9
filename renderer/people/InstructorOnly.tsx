import { useState } from 'react';
import { messageOf } from '../../app/faults/faults.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { Heading } from '../parts/Heading.tsx';

/** A screen of the instructor's area: where a passphrase is set, it must be given first. */
export function InstructorOnly({ children }: { readonly children: React.ReactNode }) {
  const { isInstructor } = useKnown().people;
  return isInstructor ? children : <Enter />;
}

function Enter() {
  const { refresh } = useKnown();
  const [passphrase, setPassphrase] = useState('');
  const [failed, setFailed] = useState('');
  const enter = (event: React.FormEvent): void => {
    event.preventDefault();
    api.enter(passphrase).then(refresh, (error: unknown) => setFailed(messageOf(error)));
  };
  return (
    <main className="page">
      <Heading>Instructor</Heading>
      <p>
        This area is for the instructor. Give its passphrase to see everybody’s rehearsals and to review them.
      </p>
      <form className="who-form" onSubmit={enter}>
        <label className="field">
          <span>Passphrase</span>
          <input
            type="password"
            autoComplete="current-password"
            required
            value={passphrase}
            onChange={({ target }) => setPassphrase(target.value)}
          />
        </label>
        <button type="submit" className="button main">
          Enter
        </button>
      </form>
      {failed !== '' && <p role="alert">{failed}</p>}
      <p className="hint">
        After a wrong passphrase you must wait, each time twice as long, up to 15 minutes. Forgotten? Whoever
        looks after this computer can delete the file <code>instructor.json</code> in the data folder (its
        place is under “Settings”): then the area is open, and a new passphrase can be set. No rehearsal is
        lost.
      </p>
    </main>
  );
}
