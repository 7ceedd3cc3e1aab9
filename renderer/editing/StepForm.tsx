import type { Path } from '../../app/faults/faults.ts';
import { KINDS, nameOf, type StepView } from './skillEdit.ts';
import { Lines } from '../parts/Lines.tsx';

/** What each kind of evidence is called, and the fields a form has for it. */
const FIELDS: Readonly<
  Record<
    keyof typeof KINDS,
    { title: string; numbers: readonly Labelled[]; texts: readonly Labelled[]; lists: readonly Labelled[] }
  >
> = {
  said: { title: 'It is said', numbers: [], texts: [], lists: [] },
  eyes: { title: 'It takes eyes', numbers: [], texts: [], lists: [] },
  timed: {
    title: 'It takes its time',
    numbers: [
      ['atLeast', 'Seconds needed'],
      ['grace', 'Seconds that may be missing'],
    ],
    texts: [],
    lists: [
      ['start', 'Sayings that start the time'],
      ['stop', 'Sayings that end it'],
    ],
  },
  counted: {
    title: 'It is repeated',
    numbers: [['atLeast', 'Times needed']],
    texts: [['joint', 'Joint that is moved']],
    lists: [['again', 'Short sayings that count']],
  },
  reading: {
    title: 'It is a number',
    numbers: [
      ['from', 'Smallest that can be meant'],
      ['to', 'Largest that can be meant'],
    ],
    texts: [['unit', 'Unit']],
    lists: [['value', 'Sayings that carry the number']],
  },
};
type Labelled = readonly [name: string, label: string];

export type FieldValue = string | number | boolean | readonly string[] | null;

/** One step as a form. Every edit goes to its own field of the file. */
export function StepForm({
  step,
  others,
  onField,
  onKind,
  onLine,
  onRemove,
}: {
  readonly step: StepView;
  /** Names of the skill's other steps. */
  readonly others: readonly string[];
  /** Sets a field of the step. */
  readonly onField: (path: Path, value: FieldValue) => void;
  readonly onKind: (kind: keyof typeof KINDS) => void;
  /** Shows the step in the file. */
  readonly onLine: () => void;
  readonly onRemove: () => void;
}) {
  const { use, evidence } = step;
  const kind = isKind(evidence['kind']) ? evidence['kind'] : 'said';
  const { numbers, texts, lists } = FIELDS[kind];
  const text = (path: Path, label: string, value: string, number = false): React.JSX.Element => (
    <label key={label} className="field">
      <span>{label}</span>
      <input
        type={number ? 'number' : 'text'}
        step="any"
        value={value}
        onChange={({ target }) =>
          onField(path, number && target.value !== '' ? Number(target.value) : target.value)
        }
      />
    </label>
  );
  return (
    <div className="step-form">
      {use !== '' && (
        <p className="hint">
          Taken from the steps that every skill shares. What stands here goes before what is shared.
        </p>
      )}
      {text(['text'], 'What is marked', step.text)}
      {use === '' && text(['id'], 'Short name, in lower-case words joined by hyphens', step.id)}
      <div className="choices">
        <label className="choice">
          <input
            type="checkbox"
            checked={step.critical}
            onChange={({ target }) => onField(['critical'], target.checked || null)}
          />
          Critical: missing it fails the skill
        </label>
        <label className="choice">
          <input
            type="checkbox"
            checked={step.plans}
            onChange={({ target }) => onField(['plans'], target.checked || null)}
          />
          “I am going to…” is enough
        </label>
      </div>
      {use === '' && (
        <label className="field">
          <span>How it is shown</span>
          <select value={kind} onChange={({ target }) => isKind(target.value) && onKind(target.value)}>
            {Object.entries(FIELDS).map(([value, { title }]) => (
              <option key={value} value={value}>
                {title}
              </option>
            ))}
          </select>
        </label>
      )}
      {kind !== 'eyes' && (
        <Lines
          label={use === '' ? 'Cues, one a line' : 'More cues, one a line'}
          hint="Example sayings. {slot} stands for the lexicon’s wordings, ! requires the word before it."
          value={step.cues}
          onChange={(cues) => onField(['cues'], cues)}
        />
      )}
      {numbers.map(([name, label]) => text(['evidence', name], label, plain(evidence[name]), true))}
      {texts.map(([name, label]) => text(['evidence', name], label, plain(evidence[name])))}
      {lists.map(([name, label]) => (
        <Lines
          key={name}
          label={`${label}, one a line`}
          value={listOf(evidence[name])}
          onChange={(value) => onField(['evidence', name], value)}
        />
      ))}
      <Order
        label="Must come after"
        ids={step.after}
        others={others}
        onChange={(ids) => onField(['after'], ids)}
      />
      <Order
        label="Must come before"
        ids={step.before}
        others={others}
        onChange={(ids) => onField(['before'], ids)}
      />
      <div className="actions">
        <button type="button" className="button quiet" onClick={onLine}>
          Show it in the file
        </button>
        <button type="button" className="button quiet" onClick={onRemove}>
          Take “{nameOf(step)}” out
        </button>
      </div>
    </div>
  );
}

/** Steps that this one must come after, or before. */
function Order({
  label,
  ids,
  others,
  onChange,
}: {
  readonly label: string;
  readonly ids: readonly string[];
  readonly others: readonly string[];
  readonly onChange: (ids: readonly string[]) => void;
}) {
  return (
    <div className="order">
      <label className="choice">
        <span>{label}</span>
        <select value="" onChange={({ target }) => onChange([...ids, target.value])}>
          <option value="">add a step…</option>
          {others
            .filter((id) => id !== '' && !ids.includes(id))
            .map((id) => (
              <option key={id}>{id}</option>
            ))}
        </select>
      </label>
      {ids.map((id) => (
        <button
          key={id}
          type="button"
          className="chip"
          aria-label={`${label} ${id}: take out`}
          onClick={() => onChange(ids.filter((other) => other !== id))}
        >
          {id} <span aria-hidden="true">×</span>
        </button>
      ))}
    </div>
  );
}

const isKind = (kind: unknown): kind is keyof typeof KINDS => typeof kind === 'string' && kind in KINDS;
const plain = (value: unknown): string =>
  typeof value === 'string' || typeof value === 'number' ? String(value) : '';
const listOf = (value: unknown): string[] => (Array.isArray(value) ? value.map(plain) : []);
