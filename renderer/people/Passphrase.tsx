import { useState } from 'react';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';

/** The passphrase of the instructor's area: set, changed, taken away; and the way out. */
export function Passphrase() {
  const { people, refresh, fail } = useKnown();
  const [passphrase, setPassphrase] = useState('');
  const after = (work: Promise<void>): void => {
    setPassphrase('');
    void work.then(refresh, fail);
  };
  const set = (event: React.FormEvent): void => {
    event.preventDefault();
    after(api.setPassphrase(passphrase));
  };
  return (
    <section className="panel" aria-labelledby="passphrase">
      <h2 id="passphrase">Passphrase</h2>
      <p>
        {people.hasPassphrase
          ? 'Trainees see and delete only their own rehearsals, and those of nobody. They see no reviews. You are in the instructor’s area until you leave it, or do nothing for half an hour.'
          : 'No passphrase is set: whoever uses this computer sees and deletes every rehearsal, and can review.'}
      </p>
      <form className="who-form" onSubmit={set}>
        <label className="field">
          <span>{people.hasPassphrase ? 'New passphrase' : 'Passphrase'}, at least 8 characters</span>
          <input
            type="password"
            autoComplete="new-password"
            required
            minLength={8}
            maxLength={200}
            value={passphrase}
            onChange={({ target }) => setPassphrase(target.value)}
          />
        </label>
        <button type="submit" className="button">
          {people.hasPassphrase ? 'Change the passphrase' : 'Set the passphrase'}
        </button>
      </form>
      {people.hasPassphrase && (
        <div className="actions">
          <button type="button" className="button" onClick={() => after(api.leave())}>
            Leave the instructor’s area
          </button>
          <button type="button" className="button quiet" onClick={() => after(api.removePassphrase())}>
            Take the passphrase away
          </button>
        </div>
      )}
      <p className="hint">
        It keeps this program’s screens from showing what is not theirs. It does not lock the files: who can
        open the data folder can read it, and anybody can choose any name. Forgotten? Delete{' '}
        <code>instructor.json</code> in the data folder.
      </p>
    </section>
  );
}
