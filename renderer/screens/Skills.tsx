import { useCallback, useEffect, useRef, useState } from 'react';
import type { Library, ListedSkill, Settings } from '../../app/host/api.ts';
import { messageOf, type Fault } from '../../app/faults/faults.ts';
import { api, HostFailed } from '../api.ts';
import { keptDraft, keptDrafts } from '../editing/drafts.ts';
import { FaultList } from '../editing/FaultList.tsx';
import { Heading } from '../parts/Heading.tsx';
import { idFrom, templateOf } from '../editing/newSkill.ts';
import { Editor, type Draft } from '../editing/Editor.tsx';

/** The skills there are, to be rewritten, taken elsewhere and taken in; and the one that is being written. */
export function Skills({
  library,
  settings,
  canRecognise,
  onChanged,
  onBack,
}: {
  readonly library: Library;
  readonly settings: Settings;
  readonly canRecognise: boolean;
  /** Skills are others now: ask the host again. */
  readonly onChanged: () => void;
  readonly onBack: () => void;
}) {
  const [listed, setListed] = useState<readonly ListedSkill[]>([]);
  const [draft, setDraft] = useState<Draft | null>(null);
  const [title, setTitle] = useState('');
  const [chosen, setChosen] = useState<ReadonlySet<string>>(new Set());
  const [failed, setFailed] = useState('');

  const fail = useCallback((error: unknown): void => setFailed(messageOf(error)), []);
  const list = useCallback((): void => void api.skills().then(setListed, fail), [fail]);
  useEffect(list, [list]);

  const changed = (): void => {
    list();
    onChanged();
  };
  const edit = (id: string): void => {
    setFailed('');
    api.skillSource(id).then((saved) => setDraft({ id, source: keptDraft(id) ?? saved, saved }), fail);
  };
  const begin = (event: React.FormEvent): void => {
    event.preventDefault();
    const id = idFrom(title);
    if (id === '' || taken) return;
    setTitle('');
    setDraft({ id, source: keptDraft(id) ?? templateOf(id, title.trim()), saved: null });
  };
  const taken = listed.some(({ id }) => id === idFrom(title));

  if (draft)
    return (
      <Editor
        draft={draft}
        library={library}
        settings={settings}
        canRecognise={canRecognise}
        onSaved={changed}
        onBack={() => setDraft(null)}
      />
    );
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
      <ul className="skills" aria-label="Skills">
        {listed.map(({ id, title: name, version, own }) => (
          <li key={id} className="skill">
            <label className="choice">
              <input
                type="checkbox"
                aria-label={`Choose ${name}`}
                disabled={version === null}
                checked={chosen.has(id)}
                onChange={({ target }) => {
                  const next = new Set(chosen);
                  if (target.checked) next.add(id);
                  else next.delete(id);
                  setChosen(next);
                }}
              />
            </label>
            <button type="button" className="skill-open" onClick={() => edit(id)}>
              <span className="past-title">{name}</span>
              <span className="hint">
                {version === null ? 'Cannot be read: to be put right' : `Version ${version}`}
                {own ? ', your own' : ''}
              </span>
            </button>
          </li>
        ))}
        {keptDrafts()
          .filter((id) => listed.length > 0 && !listed.some((skill) => skill.id === id))
          .map((id) => (
            <li key={id} className="skill">
              <button
                type="button"
                className="skill-open"
                onClick={() => setDraft({ id, source: keptDraft(id) ?? '', saved: null })}
              >
                <span className="past-title">{id}</span>
                <span className="hint">Begun and not saved yet</span>
              </button>
            </li>
          ))}
      </ul>
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
      <Packs chosen={[...chosen]} onTaken={changed} onFail={fail} />
      <div className="actions">
        <button type="button" className="button" onClick={onBack}>
          Back to the start
        </button>
      </div>
    </main>
  );
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
      const blob = new Blob([`${JSON.stringify(pack, null, 2)}\n`], { type: 'application/json' });
      const link = document.createElement('a');
      link.href = URL.createObjectURL(blob);
      link.download = chosen.length === 1 ? `${chosen[0]}.skills.json` : 'skills.json';
      link.click();
      URL.revokeObjectURL(link.href);
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
