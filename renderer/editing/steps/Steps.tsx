import { useState } from 'react';
import type { Library } from '../../../app/host/api.ts';
import { freeId, idFrom } from '../newSkill.ts';
import { lineOfStep, nameOf, type NewStep, type StepView } from '../skillEdit.ts';
import { StepRow } from './StepRow.tsx';
import { useSteps } from './useSteps.ts';

/** The steps in their order, one of them open, and ways to add one. */
export function Steps({
  source,
  steps,
  library,
  onChange,
  onLine,
}: {
  readonly source: string;
  readonly steps: readonly StepView[];
  readonly library: Library;
  readonly onChange: (source: string) => void;
  readonly onLine: (line: number) => void;
}) {
  const edits = useSteps(source, steps, onChange);
  const [dragged, setDragged] = useState<number | null>(null);
  const shared = new Map(library.care.steps.map(({ id, text }) => [id, text]));
  const names = steps.map(nameOf);
  return (
    <>
      <p className="visually-hidden" role="status">
        {edits.moved}
      </p>
      <ol className="steps">
        {steps.map((step, i) => (
          <StepRow
            key={i}
            step={step}
            index={i}
            names={names}
            sharedText={shared.get(step.use)}
            edits={edits}
            dragged={dragged}
            onDrag={setDragged}
            onShow={() => onLine(lineOfStep(source, i) ?? 1)}
          />
        ))}
      </ol>
      <NewOwnStep names={names} onAdd={edits.add} />
      <label className="field">
        <span>Or a step that skills share</span>
        <select value="" onChange={({ target }) => edits.add({ use: target.value })}>
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

/** Adds a step of the skill's own. */
function NewOwnStep({
  names,
  onAdd,
}: {
  readonly names: readonly string[];
  readonly onAdd: (step: NewStep) => void;
}) {
  const [text, setText] = useState('');
  const id = idFrom(text);
  return (
    <form
      className="tester-line"
      onSubmit={(event) => {
        event.preventDefault();
        if (id === '') return;
        onAdd({ id: freeId(id, names), text: text.trim() });
        setText('');
      }}
    >
      <label className="field">
        <span>A new step: what is marked</span>
        <input type="text" value={text} onChange={({ target }) => setText(target.value)} />
      </label>
      <button type="submit" className="button" disabled={id === ''}>
        Add the step
      </button>
    </form>
  );
}
