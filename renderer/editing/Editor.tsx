import { useEffect, useMemo, useState } from 'react';
import type { CheckedSkill, Library, Settings } from '../../app/host/api.ts';
import { MEASURES } from '../../app/skills/measure.ts';
import { Heading } from '../parts/Heading.tsx';
import { Actions } from './Actions.tsx';
import { forgetDraft } from './drafts.ts';
import { FaultList } from './FaultList.tsx';
import { PhraseTester } from './PhraseTester.tsx';
import { setField, viewOf, type SkillView } from './skillEdit.ts';
import { Steps } from './steps/Steps.tsx';
import { useText } from './text/useText.ts';
import { useChecked, type Checked } from './useChecked.ts';
import { useDraft, type Draft, type News } from './useDraft.ts';

export type { Draft };

/** A skill file, as text and as a form side by side: what is written on one side shows on the other. */
export function Editor({
  draft: opened,
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
  const draft = useDraft(opened, onSaved);
  const { source, dirty, news } = draft;
  // The text is the truth: the form, too, writes into it, and what it holds then comes back as `source`.
  const { place, text } = useText(source, LABEL, draft.write);
  const [phrase, setPhrase] = useState('');
  const [leaving, setLeaving] = useState(false);
  const { checked, failed } = useChecked(source, phrase);
  const view = useMemo(() => viewOf(source), [source]);

  useEffect(() => {
    if (checked) text.current?.showFaults(checked);
  }, [checked, text]);

  const change = (next: string): void => text.current?.replace(next);
  const toLine = (line: number): void => text.current?.showLine(line);
  const bringBack = (version: number): void =>
    void draft.earlier(version).then((old) => old !== null && change(old));

  return (
    <main className="page page-editor">
      <Heading>{view?.title || opened.id}: the skill’s file</Heading>
      <Actions
        draft={draft}
        onUndo={() => text.current?.undo()}
        onRedo={() => text.current?.redo()}
        onVersion={bringBack}
        onBack={() => (dirty ? setLeaving(true) : onBack())}
      />
      {leaving && (
        <Leaving
          onStay={() => setLeaving(false)}
          onLeave={() => {
            forgetDraft(opened.id);
            onBack();
          }}
        />
      )}
      <Refusal news={news} onLine={toLine} />
      <Facts view={view} onField={(name, value) => change(setField(source, [name], value))} />
      <div className="editor">
        <div className="editor-text">
          <h2>{LABEL}</h2>
          <div ref={place} />
          <Findings checked={checked} failed={failed} onLine={toLine} />
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
            <p className="hint">The steps are shown once the file can be read: put its faults right first.</p>
          )}
        </section>
      </div>
    </main>
  );
}

const LABEL = 'The file (YAML)';

/** Asks before what is not saved is given up. */
function Leaving({ onStay, onLeave }: { readonly onStay: () => void; readonly onLeave: () => void }) {
  return (
    <section className="notice" role="alert">
      <p>What you wrote is not saved.</p>
      <div className="actions">
        <button type="button" className="button main" onClick={onStay}>
          Stay here
        </button>
        <button type="button" className="button" onClick={onLeave}>
          Leave without saving
        </button>
      </div>
    </section>
  );
}

/** Why the host did not take the file. */
function Refusal({ news, onLine }: { readonly news: News; readonly onLine: (line: number) => void }) {
  if (news.kind !== 'refused') return null;
  return (
    <section className="notice" role="alert">
      <p>
        <strong>{news.message}</strong>
      </p>
      <FaultList faults={news.faults} onLine={onLine} />
    </section>
  );
}

/** The fields of the skill as a whole. */
function Facts({
  view,
  onField,
}: {
  readonly view: SkillView | null;
  readonly onField: (name: 'title' | 'version' | 'change' | 'bench', value: string | number) => void;
}) {
  const field = (name: 'title' | 'version' | 'change', label: string): React.JSX.Element => (
    <label className={`field field-${name}`}>
      <span>{label}</span>
      <input
        type={name === 'version' ? 'number' : 'text'}
        value={view?.[name] ?? ''}
        disabled={!view}
        onChange={({ target: { value } }) =>
          onField(name, name === 'version' && value !== '' ? Number(value) : value)
        }
      />
    </label>
  );
  return (
    <div className="editor-facts">
      {field('title', 'Title')}
      {field('version', 'Version')}
      {field('change', 'What this version changes')}
      <label className="field">
        <span>Measured on a simulated resident</span>
        <select
          value={view?.bench ?? ''}
          disabled={!view}
          onChange={({ target }) => onField('bench', target.value)}
        >
          {['', ...MEASURES].map((measure) => (
            <option key={measure} value={measure}>
              {measure === '' ? 'nothing' : measure}
            </option>
          ))}
        </select>
      </label>
    </div>
  );
}

/** What is to be put right, each with the way to its line. */
function Findings({
  checked,
  failed,
  onLine,
}: {
  readonly checked: Checked | null;
  readonly failed: string;
  readonly onLine: (line: number) => void;
}) {
  return (
    <section aria-label="Faults and warnings" aria-live="polite">
      {failed !== '' && <p>{failed}</p>}
      {checked && (
        <>
          <p>
            <strong>{summary(checked)}</strong>
          </p>
          <FaultList faults={[...checked.faults, ...checked.warnings]} onLine={onLine} />
        </>
      )}
    </section>
  );
}

function summary({ faults, warnings }: CheckedSkill): string {
  if (faults.length > 0)
    return `${faults.length} ${faults.length === 1 ? 'fault' : 'faults'}: it cannot be used yet.`;
  if (warnings.length === 0) return 'No faults, no warnings.';
  return `No faults. ${warnings.length} ${warnings.length === 1 ? 'warning' : 'warnings'}:`;
}
