import { lazy, useCallback, useEffect, useRef, useState } from 'react';
import { Link, useLocation } from 'wouter';
import type { ListedSkill } from '../../app/host/api.ts';
import { messageOf, type Fault } from '../../app/faults/faults.ts';
import { api, HostFailed } from '../api.ts';
import { keptDraft, keptDrafts } from '../editing/drafts.ts';
import { FaultList } from '../editing/FaultList.tsx';
import { Heading } from '../parts/Heading.tsx';
import { idFrom, templateOf } from '../editing/newSkill.ts';
import type { Draft } from '../editing/Editor.tsx';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { saveFile } from '../browser/saveFile.ts';

const Editor = lazy(() => import('../editing/Editor.tsx').then((m) => ({ default: m.Editor })));

/** The skills there are, to be rewritten, taken elsewhere and taken in. */
export function Skills() {
  const { refresh } = useKnown();
  const [, navigate] = useLocation();
  const [listed, setListed] = useState<readonly ListedSkill[]>([]);
  const [title, setTitle] = useState('');
  const [chosen, setChosen] = useState<ReadonlySet<string>>(new Set());
  const [failed, setFailed] = useState('');

  const fail = useCallback((error: unknown): void => setFailed(messageOf(error)), []);
  const list = useCallback((): void => void api.skills().then(setListed, fail), [fail]);
  useEffect(list, [list]);

  const taken = listed.some(({ id }) => id === idFrom(title));
  const begin = (event: React.FormEvent): void => {
    event.preventDefault();
    const id = idFrom(title);
    if (id !== '' && !taken) navigate(ADDRESS.editSkill(id), { state: title.trim() });
  };

  return (
    <main className="page">
      <Heading>Skills</Heading>
      <p>
        What your school writes lies in the data folder of this program, beside the skills that come with it.
        A changed skill of the program becomes your own.
      </p>
      {failed !== '' && (
        <p className="notice" role="alert">
          {failed}
        </p>
      )}
      <Entries listed={listed} chosen={chosen} onChosen={setChosen} />
      <form className="tester-line" onSubmit={begin}>
        <label className="field">
          <span>A new skill: its title</span>
          <input type="text" value={title} onChange={({ target }) => setTitle(target.value)} />
        </label>
        <button type="submit" className="button" disabled={idFrom(title) === '' || taken}>
          Write a new skill
        </button>
      </form>
      {taken && title !== '' && <p role="status">There is a skill of that name already.</p>}
      <Packs
        chosen={[...chosen]}
        onTaken={() => {
          list();
          void refresh();
        }}
        onFail={fail}
      />
    </main>
  );
}

/** The skills, each to be opened, and chosen to be copied. */
function Entries({
  listed,
  chosen,
  onChosen,
}: {
  readonly listed: readonly ListedSkill[];
  readonly chosen: ReadonlySet<string>;
  readonly onChosen: (chosen: ReadonlySet<string>) => void;
}) {
  const choose = (id: string, isChosen: boolean): void => {
    const next = new Set(chosen);
    if (isChosen) next.add(id);
    else next.delete(id);
    onChosen(next);
  };
  return (
    <ul className="entries" aria-label="Skills">
      {listed.map(({ id, title, version, own }) => (
        <li key={id} className="chosen-entry">
          <label className="choice">
            <input
              type="checkbox"
              aria-label={`Choose ${title}`}
              disabled={version === null}
              checked={chosen.has(id)}
              onChange={({ target }) => choose(id, target.checked)}
            />
          </label>
          <Link href={ADDRESS.editSkill(id)} className="entry">
            <span className="entry-title">{title}</span>{' '}
            <span className="hint">
              {version === null ? 'Cannot be read: to be put right' : `Version ${version}`}
              {own ? ', your own' : ''}
            </span>
          </Link>
        </li>
      ))}
      {keptDrafts()
        .filter((id) => listed.length > 0 && !listed.some((skill) => skill.id === id))
        .map((id) => (
          <li key={id} className="chosen-entry">
            <Link href={ADDRESS.editSkill(id)} className="entry">
              <span className="entry-title">{id}</span> <span className="hint">Begun and not saved yet</span>
            </Link>
          </li>
        ))}
    </ul>
  );
}

/** One skill that is being written. */
export function EditSkill({ id }: { readonly id: string }) {
  const { library, settings, canHear, refresh, fail } = useKnown();
  const [, navigate] = useLocation();
  const [draft, setDraft] = useState<Draft | null>(null);
  useEffect(() => {
    let wanted = true;
    openDraft(id).then((opened) => wanted && setDraft(opened), fail);
    return () => {
      wanted = false;
    };
  }, [id, fail]);
  if (!draft) return <p className="opening">Opening…</p>;
  return (
    <Editor
      draft={draft}
      library={library}
      settings={settings}
      canRecognise={canHear}
      onSaved={() => void refresh()}
      onBack={() => navigate(ADDRESS.skills)}
    />
  );
}

/** A skill's text as it was left, or as it is saved. A new one begins with the title that the list of skills sends along. */
async function openDraft(id: string): Promise<Draft> {
  const kept = keptDraft(id);
  if ((await api.skills()).some((listed) => listed.id === id)) {
    const saved = await api.skillSource(id);
    return { id, source: kept ?? saved, saved };
  }
  const title: unknown = history.state;
  if (kept === null && typeof title !== 'string')
    throw new Error(`There is no skill "${id}". Go to the skills and choose one, or write a new one there.`);
  return { id, source: kept ?? templateOf(id, String(title)), saved: null };
}

/** Skills as files that travel. */
function Packs({
  chosen,
  onTaken,
  onFail,
}: {
  readonly chosen: readonly string[];
  readonly onTaken: () => void;
  readonly onFail: (error: unknown) => void;
}) {
  const [refused, setRefused] = useState<{ pack: string; faults: readonly Fault[] } | null>(null);
  const [said, setSaid] = useState('');
  const file = useRef<HTMLInputElement>(null);

  const save = async (): Promise<void> => {
    try {
      const pack = await api.exportSkills(chosen);
      const content = new Blob([`${JSON.stringify(pack, null, 2)}\n`], { type: 'application/json' });
      saveFile(chosen.length === 1 ? `${chosen[0]}.skills.json` : 'skills.json', content);
      setSaid(
        `${pack.skills.length === 1 ? 'One skill is' : `${pack.skills.length} skills are`} in the file.`,
      );
    } catch (error) {
      onFail(error);
    }
  };
  const take = async (pack: string, replace: boolean): Promise<void> => {
    setRefused(null);
    setSaid('');
    try {
      const { skills, narrations } = await api.importSkills(pack, replace);
      const more = narrations.length > 0 ? ` and ${narrations.length} narrations` : '';
      setSaid(`Taken in: ${skills.join(', ')}${more}.`);
      onTaken();
    } catch (error) {
      if (error instanceof HostFailed && error.faults.length > 0) setRefused({ pack, faults: error.faults });
      else onFail(error);
    }
  };
  // Only what is newer here stands in the way: that may be asked to give way.
  const onlyNewer = refused?.faults.every(({ message }) => message.endsWith('ask to replace it')) ?? false;

  return (
    <section aria-label="Copy skills between computers" className="packs">
      <h2>Copy skills between computers</h2>
      <div className="actions">
        <button type="button" className="button" disabled={chosen.length === 0} onClick={() => void save()}>
          Write the chosen ones to a file ({chosen.length})
        </button>
        <button type="button" className="button" onClick={() => file.current?.click()}>
          Take in a file of skills
        </button>
        <input
          ref={file}
          type="file"
          accept=".json,application/json"
          aria-label="A file of skills"
          hidden
          onChange={({ target }) => {
            const [picked] = target.files ?? [];
            void picked?.text().then((text) => take(text, false), onFail);
            target.value = '';
          }}
        />
      </div>
      <p role="status">{said}</p>
      {refused && (
        <div className="notice" role="alert">
          <p>
            <strong>Nothing was taken in:</strong>
          </p>
          <FaultList faults={refused.faults} />
          {onlyNewer && (
            <button type="button" className="button" onClick={() => void take(refused.pack, true)}>
              Replace them; what is here is kept as an earlier version
            </button>
          )}
        </div>
      )}
    </section>
  );
}
