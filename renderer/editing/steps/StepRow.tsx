import type { StepView } from '../skillEdit.ts';
import { StepForm } from './StepForm.tsx';
import { buttonOf, type StepEdits } from './useSteps.ts';

/** One step of the list: its title opens its form, its buttons and the mouse move it. */
export function StepRow({
  step,
  index,
  names,
  sharedText,
  edits,
  dragged,
  onDrag,
  onShow,
}: {
  readonly step: StepView;
  /** Its place in the order, from 0. */
  readonly index: number;
  /** Names of all steps, in their order. */
  readonly names: readonly string[];
  /** What the shared step that it takes in says is marked. */
  readonly sharedText: string | undefined;
  readonly edits: StepEdits;
  /** The step that the mouse is dragging. */
  readonly dragged: number | null;
  readonly onDrag: (step: number | null) => void;
  /** Shows the step in the file. */
  readonly onShow: () => void;
}) {
  const name = names[index] || `step ${index + 1}`;
  const open = edits.open === index;
  return (
    <li
      className={dragged === index ? 'step dragged' : 'step'}
      onDragOver={(event) => {
        if (dragged !== null) event.preventDefault();
      }}
      onDrop={(event) => {
        event.preventDefault();
        if (dragged !== null) edits.move(dragged, index);
        onDrag(null);
      }}
    >
      <div
        className="step-head"
        draggable
        onDragStart={(event) => {
          event.dataTransfer.setData('text/plain', name);
          onDrag(index);
        }}
        onDragEnd={() => onDrag(null)}
      >
        <button
          type="button"
          id={buttonOf('title', index)}
          className="step-title"
          aria-expanded={open}
          onClick={() => edits.toggle(index)}
        >
          {index + 1}. {step.text || sharedText || name}{' '}
          {step.critical && <span className="tag">critical</span>}{' '}
          {step.use !== '' && <span className="tag">shared</span>}
        </button>
        <Mover name={name} index={index} way="up" shut={index === 0} edits={edits} />
        <Mover name={name} index={index} way="down" shut={index === names.length - 1} edits={edits} />
      </div>
      {open && (
        <StepForm
          step={step}
          others={names.filter((_, other) => other !== index)}
          onField={(path, value) => edits.setField(index, path, value)}
          onKind={(kind) => edits.setKind(index, kind)}
          onShow={onShow}
          onRemove={() => edits.remove(index)}
        />
      )}
    </li>
  );
}

/** Moves a step one place up or down. */
function Mover({
  name,
  index,
  way,
  shut,
  edits,
}: {
  readonly name: string;
  readonly index: number;
  readonly way: 'up' | 'down';
  readonly shut: boolean;
  readonly edits: StepEdits;
}) {
  return (
    <button
      type="button"
      id={buttonOf(way, index)}
      className="small"
      aria-label={`Move ${name} ${way}`}
      disabled={shut}
      onClick={() => edits.nudge(index, way)}
    >
      {way === 'up' ? '↑' : '↓'}
    </button>
  );
}
