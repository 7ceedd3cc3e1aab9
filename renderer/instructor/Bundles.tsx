import { useRef, useState } from 'react';
import { takenInWords } from '../../app/host/api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { saveFile } from '../saveFile.ts';

/** Rehearsals as files that travel: from where they were rehearsed to where they are reviewed. */
export function Bundles() {
  const { people, refresh } = useKnown();
  const [group, setGroup] = useState<string | null>(null);
  const [since, setSince] = useState('');
  const [doing, setDoing] = useState('');
  const [said, setSaid] = useState<readonly string[]>([]);
  const [failed, setFailed] = useState('');
  const file = useRef<HTMLInputElement>(null);
  const classes = [...new Set(people.trainees.map((trainee) => trainee.class))].sort();

  const work = async (first: string, what: () => Promise<readonly string[]>): Promise<void> => {
    setDoing(first);
    setSaid([]);
    setFailed('');
    try {
      setSaid(await what());
    } catch (error) {
      setFailed(messageOf(error));
    } finally {
      setDoing('');
    }
  };
  const save = (): Promise<void> =>
    work('Putting the file together…', async () => {
      const moment = since === '' ? '' : new Date(`${since}T00:00`).toISOString();
      const { blob, name, carried, leftOut } = await api.bundle({ class: group, since: moment }, (share) =>
        setDoing(`Saving: ${percent(share)}`),
      );
      saveFile(name, blob);
      const more = leftOut > 0 ? [`${leftOut} left out: being rehearsed just now, or damaged.`] : [];
      return [`${rehearsals(carried)} in the file ${name}.`, ...more];
    });
  const take = (picked: File): Promise<void> =>
    work('Reading the file…', async () => {
      const taken = await api.takeInBundle(picked, (share) =>
        setDoing(share < 1 ? `Reading the file: ${percent(share)}` : 'Checking it and taking it in…'),
      );
      await refresh();
      return takenInWords(taken);
    });

  return (
    <section className="panel" aria-labelledby="bundles">
      <h2 id="bundles">Copy rehearsals between computers</h2>
      <p className="hint">
        One file with names, words, marks, reviews and, where that was agreed to, sound. Whoever has the file
        can open it, and what is deleted here stays in it.
      </p>
      <div className="filters">
        <label className="field">
          <span>Whose</span>
          <select
            value={group === null ? EVERYBODY : `=${group}`}
            onChange={({ target: { value } }) => setGroup(value === EVERYBODY ? null : value.slice(1))}
          >
            <option value={EVERYBODY}>Everybody’s</option>
            {classes.map((name) => (
              <option key={name} value={`=${name}`}>
                {name === '' ? 'Those without a class' : `Class ${name}`}
              </option>
            ))}
          </select>
        </label>
        <label className="field">
          <span>Since</span>
          <input type="date" value={since} onChange={({ target }) => setSince(target.value)} />
        </label>
      </div>
      <div className="actions">
        <button type="button" className="button" disabled={doing !== ''} onClick={() => void save()}>
          Save as one file
        </button>
        <button
          type="button"
          className="button"
          disabled={doing !== ''}
          onClick={() => file.current?.click()}
        >
          Take in a file
        </button>
        <input
          ref={file}
          type="file"
          accept=".zip,application/zip"
          aria-label="A file of rehearsals"
          hidden
          onChange={({ target }) => {
            const [picked] = target.files ?? [];
            if (picked) void take(picked);
            target.value = '';
          }}
        />
      </div>
      <div role="status">
        {doing !== '' && <p>{doing}</p>}
        {said.map((line) => (
          <p key={line}>{line}</p>
        ))}
      </div>
      {failed !== '' && (
        <p className="notice" role="alert">
          {failed}
        </p>
      )}
    </section>
  );
}

/** No class is called so: the others have a mark in front. */
const EVERYBODY = 'everybody';

const percent = (share: number): string => `${Math.floor(100 * share)} %`;
const rehearsals = (count: number): string => (count === 1 ? '1 rehearsal is' : `${count} rehearsals are`);
