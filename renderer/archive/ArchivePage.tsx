import { useEffect, useMemo, useState } from 'react';
import type { Asked, ChoicesReply } from '../../app/archive/views/api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import '../styles/screens/agreement.css';
import '../styles/screens/progress.css';
import { AcrossView } from './AcrossView.tsx';
import { archiveApi, type ArchiveApi } from './archiveApi.ts';
import { ClassView } from './ClassView.tsx';
import { SchoolView } from './SchoolView.tsx';
import { SignIn } from './SignIn.tsx';

/** The token is kept for this tab only. */
const TOKEN = 'sinkside archive token';

/** The school's archive: classes, the school, and a skill across schools. */
export function ArchivePage() {
  const [token, setToken] = useState(() => sessionStorage.getItem(TOKEN) ?? '');
  const [choices, setChoices] = useState<ChoicesReply | null>(null);
  const [failed, setFailed] = useState('');
  const api = useMemo(() => archiveApi(token), [token]);
  useEffect(() => {
    if (token === '') return;
    api.choices().then(
      (reply) => {
        sessionStorage.setItem(TOKEN, token);
        setFailed('');
        setChoices(reply);
      },
      (error: unknown) => setFailed(messageOf(error)),
    );
  }, [api, token]);
  const leave = (): void => {
    sessionStorage.removeItem(TOKEN);
    setChoices(null);
    setToken('');
  };
  return (
    <main className="page">
      <Heading>The school’s archive</Heading>
      {failed !== '' && <p role="alert">{failed}</p>}
      {choices ? <Views api={api} choices={choices} onLeave={leave} /> : <SignIn onToken={setToken} />}
      <Caution />
    </main>
  );
}

/** What the address of the page keeps, so that a link or a reload shows the same. */
type Shown = Asked & { readonly view: string };

function shownIn(hash: string): Shown {
  const { view = 'school', skill, from, to } = Object.fromEntries(new URLSearchParams(hash.slice(1)));
  return { view, skill, from, to };
}

function Views({
  api,
  choices,
  onLeave,
}: {
  readonly api: ArchiveApi;
  readonly choices: ChoicesReply;
  readonly onLeave: () => void;
}) {
  const [shown, setShown] = useState(() => shownIn(location.hash));
  const change = (some: Partial<Shown>): void => {
    const next = { ...shown, ...some };
    const said = Object.entries(next).filter((entry): entry is [string, string] => Boolean(entry[1]));
    history.replaceState(null, '', `#${new URLSearchParams(said)}`);
    setShown(next);
  };
  const { view, ...asked } = shown;
  const named = choices.classes.find(({ id }) => id === view);
  return (
    <>
      <div className="actions">
        <label>
          Look at{' '}
          <select value={view} onChange={({ target }) => change({ view: target.value })}>
            <option value="school">All classes</option>
            {choices.classes.map(({ id, name }) => (
              <option key={id} value={id}>
                {name}
              </option>
            ))}
            <option value="across">All schools, without names</option>
          </select>
        </label>
        <label>
          Skill{' '}
          <select value={asked.skill ?? ''} onChange={({ target }) => change({ skill: target.value })}>
            <option value="">All skills</option>
            {choices.skills.map(({ id, title }) => (
              <option key={id} value={id}>
                {title}
              </option>
            ))}
          </select>
        </label>
        <Day label="From" value={asked.from} onChange={(from) => change({ from })} />
        <Day label="Before" value={asked.to} onChange={(to) => change({ to })} />
        <button type="button" className="button quiet" onClick={onLeave}>
          Sign out
        </button>
      </div>
      {view === 'school' && <SchoolView api={api} choices={choices} asked={asked} />}
      {view !== 'school' && !asked.skill && <p>Choose a skill.</p>}
      {view === 'across' && asked.skill && <AcrossView api={api} skill={asked.skill} />}
      {named && asked.skill && <ClassView api={api} id={named.id} asked={{ ...asked, skill: asked.skill }} />}
    </>
  );
}

const Day = ({
  label,
  value = '',
  onChange,
}: {
  readonly label: string;
  readonly value: string | undefined;
  readonly onChange: (day: string) => void;
}) => (
  <label>
    {label} <input type="date" value={value} onChange={({ target }) => onChange(target.value)} />
  </label>
);
