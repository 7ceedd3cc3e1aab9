import { useRef, useState } from 'react';
import { takenInWords } from '../../app/host/api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { saveFile } from '../browser/saveFile.ts';

/** Which rehearsals are wanted. */
interface Wanted {
  /** Null for everybody's. */
  readonly class: string | null;
  /** First day, as "2026-03-09"; empty for all of them. */
  readonly since: string;
}

/** Rehearsals as files that travel: from where they were rehearsed to where they are reviewed. */
export function Bundles() {
  const { refresh } = useKnown();
  const [wanted, setWanted] = useState<Wanted>({ class: null, since: '' });
  const { doing, said, failed, tell, work } = useWork();

  const save = async (): Promise<readonly string[]> => {
    const since = wanted.since === '' ? '' : new Date(`${wanted.since}T00:00`).toISOString();
    const bundle = await api.bundle({ class: wanted.class, since }, (share) =>
      tell(`Saving: ${percent(share)}`),
    );
    saveFile(bundle.name, bundle.blob);
    const { carried, leftOut, name } = bundle;
    const more = leftOut > 0 ? [`${leftOut} left out: being rehearsed just now, or damaged.`] : [];
    return [`${rehearsals(carried)} in the file ${name}.`, ...more];
  };
  const take = async (file: File): Promise<readonly string[]> => {
    const taken = await api.takeInBundle(file, (share) =>
      tell(share < 1 ? `Reading the file: ${percent(share)}` : 'Checking it and taking it in…'),
    );
    await refresh();
    return takenInWords(taken);
  };

  return (
    <section className="panel" aria-labelledby="bundles">
      <h2 id="bundles">Copy rehearsals between computers</h2>
      <p className="hint">
        One file with names, words, marks, reviews and, where that was agreed to, sound. Whoever has the file
        can open it, and what is deleted here stays in it.
      </p>
      <WantedFields wanted={wanted} onWanted={setWanted} />
      <div className="actions">
        <button
          type="button"
          className="button"
          disabled={doing !== ''}
          onClick={() => work('Putting the file together…', save)}
        >
          Save as one file
        </button>
        <FilePicker isBusy={doing !== ''} onPick={(file) => work('Reading the file…', () => take(file))} />
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

/** One piece of work at a time: what is being done, what it came to, and what went wrong. */
function useWork() {
  const [doing, tell] = useState('');
  const [said, setSaid] = useState<readonly string[]>([]);
  const [failed, setFailed] = useState('');
  const work = (first: string, what: () => Promise<readonly string[]>): void => {
    tell(first);
    setSaid([]);
    setFailed('');
    what()
      .then(setSaid, (error: unknown) => setFailed(messageOf(error)))
      .finally(() => tell(''));
  };
  return { doing, said, failed, tell, work };
}

function WantedFields({
  wanted,
  onWanted,
}: {
  readonly wanted: Wanted;
  readonly onWanted: (wanted: Wanted) => void;
}) {
  const { trainees } = useKnown().people;
  const classes = [...new Set(trainees.map((trainee) => trainee.class))].sort();
  return (
    <div className="filters">
      <label className="field">
        <span>Whose</span>
        <select
          value={wanted.class === null ? EVERYBODY : `=${wanted.class}`}
          onChange={({ target: { value } }) =>
            onWanted({ ...wanted, class: value === EVERYBODY ? null : value.slice(1) })
          }
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
        <input
          type="date"
          value={wanted.since}
          onChange={({ target }) => onWanted({ ...wanted, since: target.value })}
        />
      </label>
    </div>
  );
}

/** No class is called so: the others have a mark in front. */
const EVERYBODY = 'everybody';

function FilePicker({ isBusy, onPick }: { readonly isBusy: boolean; readonly onPick: (file: File) => void }) {
  const input = useRef<HTMLInputElement>(null);
  return (
    <>
      <button type="button" className="button" disabled={isBusy} onClick={() => input.current?.click()}>
        Take in a file
      </button>
      <input
        ref={input}
        type="file"
        accept=".zip,application/zip"
        aria-label="A file of rehearsals"
        hidden
        onChange={({ target }) => {
          const [picked] = target.files ?? [];
          if (picked) onPick(picked);
          target.value = '';
        }}
      />
    </>
  );
}

const percent = (share: number): string => `${Math.floor(100 * share)} %`;
const rehearsals = (count: number): string => (count === 1 ? '1 rehearsal is' : `${count} rehearsals are`);
