import { useState } from 'react';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';

/** How long rehearsals are kept, which the school decides. */
export function KeptFor() {
  const { people, refresh, fail } = useKnown();
  const [typed, setTyped] = useState(people.keptDays === null ? '' : String(people.keptDays));
  const save = (event: React.FormEvent): void => {
    event.preventDefault();
    void api.keepFor(typed === '' ? null : Number(typed)).then(refresh, fail);
  };
  return (
    <section className="panel" aria-labelledby="kept-for">
      <h2 id="kept-for">How long rehearsals are kept</h2>
      <p role="status">
        {people.keptDays === null
          ? 'Until somebody deletes them.'
          : `${people.keptDays} ${people.keptDays === 1 ? 'day' : 'days'}; then all of a rehearsal is deleted: sound, words, marks and reviews.`}
      </p>
      {people.isInstructor ? (
        <form className="who-form" onSubmit={save}>
          <label className="field">
            <span>Days; empty for no limit</span>
            <input
              type="number"
              min={1}
              max={3650}
              step={1}
              value={typed}
              onChange={({ target }) => setTyped(target.value)}
            />
          </label>
          <button type="submit" className="button">
            Save
          </button>
        </form>
      ) : (
        <p className="hint">The instructor can change it.</p>
      )}
      <p className="hint">
        Old rehearsals are deleted when the program starts, and once a day while it runs.
      </p>
    </section>
  );
}
