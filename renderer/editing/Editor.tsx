import { useEffect, useRef, useState } from 'react';
import type { CheckedSkill, Library, Settings } from '../../app/host/api.ts';
import { messageOf, type Fault } from '../../app/faults/faults.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { api, HostFailed } from '../api.ts';
import { forgetDraft, keepDraft } from './drafts.ts';
import { FaultList } from './FaultList.tsx';
import { Heading } from '../parts/Heading.tsx';
import { PhraseTester } from './PhraseTester.tsx';
import { StepForm } from './StepForm.tsx';
import {
  addStep,
  idFrom,
  lineOfStep,
  moveStep,
  nameOf,
  removeStep,
  setField,
  setKind,
  viewOf,
} from './skillEdit.ts';

/** Milliseconds without a key after which the text is looked at. */
const AFTER = 400;

/** A skill file that is being written. */
export interface Draft {
  readonly id: string;
  readonly source: string;
  /** The file's own text; null for a new one. */
  readonly saved: string | null;
}

/** A skill file, as text and as a form side by side: what is written on one side shows on the other. */
export function Editor({
  draft,
  library,
  settings,
  canRecognise,
  onSaved,
  onBack,
}: {
  readonly draft: Draft;
  readonly library: Library;
  readonly settings: Settings;
  readonly canRecognise: boolean;
  readonly onSaved: () => void;
  readonly onBack: () => void;
}) {
  const [source, setSource] = useState(draft.source);
  const [saved, setSaved] = useState(draft.saved);
  const [phrase, setPhrase] = useState('');
  const [refused, setRefused] = useState<{ message: string; faults: readonly Fault[] } | null>(null);
  const [said, setSaid] = useState(
    draft.saved !== null && draft.saved !== draft.source
      ? 'What was written last time and not saved is here again.'
      : '',
  );
  const [leaving, setLeaving] = useState(false);
  const text = useRef<HTMLTextAreaElement>(null);
  const [versions, setVersions] = useState<readonly Skill[]>([]);
  const { checked, failed } = useChecked(source, phrase);
  const view = viewOf(source);
  const dirty = source !== saved;

  useEffect(() => {
    if (dirty) keepDraft(draft.id, source);
    else forgetDraft(draft.id);
  }, [dirty, draft.id, source]);

  useEffect(() => {
    // Without them all else can be done.
    if (saved !== null) api.skillVersions(draft.id).then(setVersions, () => undefined);
  }, [draft.id, saved]);

  const change = (next: string): void => {
    setSource(next);
    setRefused(null);
    setSaid('');
  };
  const save = async (): Promise<void> => {
    try {
      const version = await api.saveSkill(draft.id, source, saved === null);
      setSaved(source);
      setRefused(null);
      setSaid(`Saved as version ${version}. It can be rehearsed now.`);
      onSaved();
    } catch (error) {
      const faults = error instanceof HostFailed ? error.faults : [];
      setRefused({ message: faults.length > 0 ? 'It was not saved:' : messageOf(error), faults });
    }
  };
  const bringBack = async (version: number): Promise<void> => {
    try {
      const old = await api.skillVersionSource(draft.id, version);
      const next = 1 + Math.max(Number(view?.version) || 0, ...versions.map((each) => each.version));
      change(setField(setField(old, ['version'], next), ['change'], `As version ${version} was.`));
    } catch (error) {
      setRefused({ message: messageOf(error), faults: [] });
    }
  };
  const leave = (): void => (dirty ? setLeaving(true) : onBack());
  const toLine = (line: number): void => {
    const area = text.current;
    if (!area) return;
    const lines = source.split('\n');
    const from = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
    area.focus();
    area.setSelectionRange(from, from + (lines[line - 1]?.length ?? 0));
    // Lines do not wrap: each is as high as the next.
    area.scrollTop = (area.scrollHeight / lines.length) * Math.max(0, line - 5);
  };
  const field = (name: 'title' | 'version' | 'change', label: string): React.JSX.Element => (
    <label className={`field field-${name}`}>
      <span>{label}</span>
      <input
        type={name === 'version' ? 'number' : 'text'}
        value={view?.[name] ?? ''}
        disabled={!view}
        onChange={({ target }) =>
          change(
            setField(
              source,
              [name],
              name === 'version' && target.value ? Number(target.value) : target.value,
            ),
          )
        }
      />
    </label>
  );

  return (
    <main className="page page-editor">
      <Heading>{view?.title || draft.id}: the skill’s file</Heading>
      <div className="actions">
        <button type="button" className="button main" disabled={!dirty} onClick={() => void save()}>
          Save
        </button>
        <button type="button" className="button" onClick={leave}>
          Back to the skills
        </button>
        {versions.length > 0 && (
          <select
            aria-label="Bring an earlier version back"
            value=""
            onChange={({ target }) => void bringBack(Number(target.value))}
          >
            <option value="">bring a version back…</option>
            {versions.map(({ version, change: why }) => (
              <option key={version} value={version}>
                {version}
                {why === undefined ? '' : `: ${why}`}
              </option>
            ))}
          </select>
        )}
        <p className="saved" role="status">
          {said || (dirty ? 'Not saved yet.' : 'Nothing to save.')}
        </p>
      </div>
      {leaving && (
        <section className="notice" role="alert">
          <p>What you wrote is not saved.</p>
          <div className="actions">
            <button type="button" className="button main" onClick={() => setLeaving(false)}>
              Stay here
            </button>
            <button
              type="button"
              className="button"
              onClick={() => {
                forgetDraft(draft.id);
                onBack();
              }}
            >
              Leave without saving
            </button>
          </div>
        </section>
      )}
      {refused && (
        <section className="notice" role="alert">
          <p>
            <strong>{refused.message}</strong>
          </p>
          <FaultList faults={refused.faults} onLine={toLine} />
        </section>
      )}
      <div className="editor-facts">
        {field('title', 'Title')}
        {field('version', 'Version')}
        {field('change', 'What this version changes')}
      </div>
      <div className="editor">
        <div className="editor-text">
          <div className="field">
            <label htmlFor="skill-file">The file (YAML)</label>
            <textarea
              id="skill-file"
              ref={text}
              className="code"
              value={source}
              wrap="off"
              spellCheck={false}
              autoCapitalize="off"
              autoComplete="off"
              onChange={({ target }) => change(target.value)}
            />
          </div>
          <section aria-label="What is to be put right" aria-live="polite">
            {failed !== '' && <p>{failed}</p>}
            {checked && (
              <>
                <p>
                  <strong>{tell(checked)}</strong>
                </p>
                <FaultList faults={[...checked.faults, ...checked.warnings]} onLine={toLine} />
              </>
            )}
          </section>
          <PhraseTester
            phrase={phrase}
            tried={checked?.tried ?? null}
            settings={settings}
            canRecognise={canRecognise}
            onPhrase={setPhrase}
          />
        </div>
        <section aria-label="Steps" className="editor-steps">
          <h2>Steps</h2>
          {view ? (
            <Steps source={source} steps={view.steps} library={library} onChange={change} onLine={toLine} />
          ) : (
            <p className="hint">
              The steps are shown once the file can be read: put right what is said below it.
            </p>
          )}
        </section>
      </div>
    </main>
  );
}

const tell = ({ faults, warnings }: CheckedSkill): string => {
  if (faults.length > 0)
    return `${faults.length} ${faults.length === 1 ? 'fault' : 'faults'}: it cannot be used yet.`;
  if (warnings.length === 0) return 'No faults, and nothing to look at.';
  return `No faults. ${warnings.length} to look at:`;
};

/** What the host makes of the text and the sentence, once nothing has been written for a moment. */
function useChecked(source: string, phrase: string): { checked: CheckedSkill | null; failed: string } {
  const [checked, setChecked] = useState<CheckedSkill | null>(null);
  const [failed, setFailed] = useState('');
  const last = useRef(Promise.resolve());
  useEffect(() => {
    let wanted = true;
    const check = async (): Promise<void> => {
      if (!wanted) return;
      try {
        const found = await api.checkSkill(source, phrase);
        if (wanted) setChecked(found);
        if (wanted) setFailed('');
      } catch (error) {
        if (wanted) setFailed(messageOf(error));
      }
    };
    // One at a time: going through a long skill takes the host a while.
    const timer = setTimeout(() => (last.current = last.current.then(check)), AFTER);
    return () => {
      wanted = false;
      clearTimeout(timer);
    };
  }, [source, phrase]);
  return { checked, failed };
}

/** The steps in their order, one of them open. */
function Steps({
  source,
  steps,
  library,
  onChange,
  onLine,
}: {
  readonly source: string;
  readonly steps: NonNullable<ReturnType<typeof viewOf>>['steps'];
  readonly library: Library;
  readonly onChange: (source: string) => void;
  readonly onLine: (line: number) => void;
}) {
  const [open, setOpen] = useState<number | null>(null);
  const [dragged, setDragged] = useState<number | null>(null);
  const [moved, setMoved] = useState('');
  const [fresh, setFresh] = useState('');
  const focus = useRef('');
  const shared = new Map(library.care.steps.map((step) => [step.id, step.text]));
  const names = steps.map(nameOf);
  // A button that has moved, or is gone, takes the focus along.
  useEffect(() => {
    if (focus.current === '') return;
    document.getElementById(focus.current)?.focus();
    focus.current = '';
  });

  const move = (from: number, to: number, by: 'up' | 'down' | 'drag'): void => {
    if (from === to || to < 0 || to >= steps.length) return;
    onChange(moveStep(source, from, to));
    setMoved(`${names[from]} is step ${to + 1} of ${steps.length} now.`);
    setOpen(open === from ? to : null);
    // At an end that way is shut; the other one stays.
    const [first, last] = [to === 0, to === steps.length - 1];
    const stays = by === 'up' ? 'down' : 'up';
    const way = (by === 'up' && first) || (by === 'down' && last) ? stays : by;
    if (by !== 'drag') focus.current = `step-${way}-${to}`;
  };
  const add = (step: Parameters<typeof addStep>[1]): void => {
    onChange(addStep(source, step));
    setFresh('');
    setOpen(steps.length);
    focus.current = `step-${steps.length}`;
  };

  return (
    <>
      <p className="visually-hidden" role="status">
        {moved}
      </p>
      <ol className="steps">
        {steps.map((step, i) => {
          const name = names[i] || `step ${i + 1}`;
          return (
            <li
              key={i}
              className={dragged === i ? 'step dragged' : 'step'}
              onDragOver={(event) => {
                if (dragged !== null) event.preventDefault();
              }}
              onDrop={(event) => {
                event.preventDefault();
                if (dragged !== null) move(dragged, i, 'drag');
                setDragged(null);
              }}
            >
              <div
                className="step-head"
                draggable
                onDragStart={(event) => {
                  event.dataTransfer.setData('text/plain', name);
                  setDragged(i);
                }}
                onDragEnd={() => setDragged(null)}
              >
                <button
                  type="button"
                  id={`step-${i}`}
                  className="step-title"
                  aria-expanded={open === i}
                  onClick={() => setOpen(open === i ? null : i)}
                >
                  {i + 1}. {step.text || shared.get(step.use) || name}{' '}
                  {step.critical && <span className="tag">critical</span>}{' '}
                  {step.use !== '' && <span className="tag">shared</span>}
                </button>
                <button
                  type="button"
                  id={`step-up-${i}`}
                  className="small"
                  aria-label={`Move ${name} up`}
                  disabled={i === 0}
                  onClick={() => move(i, i - 1, 'up')}
                >
                  ↑
                </button>
                <button
                  type="button"
                  id={`step-down-${i}`}
                  className="small"
                  aria-label={`Move ${name} down`}
                  disabled={i === steps.length - 1}
                  onClick={() => move(i, i + 1, 'down')}
                >
                  ↓
                </button>
              </div>
              {open === i && (
                <StepForm
                  step={step}
                  others={names.filter((_, other) => other !== i)}
                  onField={(path, value) => onChange(setField(source, ['steps', i, ...path], value))}
                  onKind={(kind) => onChange(setKind(source, i, kind))}
                  onLine={() => onLine(lineOfStep(source, i) ?? 1)}
                  onRemove={() => {
                    onChange(removeStep(source, i));
                    setOpen(null);
                    focus.current = `step-${Math.max(0, i - 1)}`;
                  }}
                />
              )}
            </li>
          );
        })}
      </ol>
      <form
        className="tester-line"
        onSubmit={(event) => {
          event.preventDefault();
          if (idFrom(fresh) !== '') add({ id: free(idFrom(fresh), names), text: fresh.trim() });
        }}
      >
        <label className="field">
          <span>A new step: what is marked</span>
          <input type="text" value={fresh} onChange={({ target }) => setFresh(target.value)} />
        </label>
        <button type="submit" className="button" disabled={idFrom(fresh) === ''}>
          Add the step
        </button>
      </form>
      <label className="field">
        <span>Or a step that skills share</span>
        <select value="" onChange={({ target }) => add({ use: target.value })}>
          <option value="">add a shared step…</option>
          {[...shared]
            .filter(([id]) => !names.includes(id))
            .map(([id, text]) => (
              <option key={id} value={id}>
                {text}
              </option>
            ))}
        </select>
      </label>
    </>
  );
}

/** The name, or the first of its kind that no other step has. */
function free(id: string, taken: readonly string[]): string {
  if (!taken.includes(id)) return id;
  for (let n = 2; ; n += 1) if (!taken.includes(`${id}-${n}`)) return `${id}-${n}`;
}
