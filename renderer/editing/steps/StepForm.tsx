import type { Path } from '../../../app/faults/faults.ts';
import { ALL_BENCH_STEPS } from '../../../app/skills/measure.ts';
import { Lines } from '../../parts/Lines.tsx';
import { KINDS, nameOf, type FieldValue, type Kind, type StepView } from '../skillEdit.ts';
import { FIELDS } from './evidenceFields.ts';
import { Order } from './Order.tsx';

/** Sets a field of the step. */
type OnField = (path: Path, value: FieldValue) => void;

/** One step as a form. Every edit goes to its own field of the file. */
export function StepForm({
  step,
  others,
  onField,
  onKind,
  onShow,
  onRemove,
}: {
  readonly step: StepView;
  /** Names of the skill's other steps. */
  readonly others: readonly string[];
  readonly onField: OnField;
  readonly onKind: (kind: Kind) => void;
  /** Shows the step in the file. */
  readonly onShow: () => void;
  readonly onRemove: () => void;
}) {
  const own = step.use === '';
  const kind = isKind(step.evidence['kind']) ? step.evidence['kind'] : 'said';
  const order = (name: 'after' | 'before', label: string): React.JSX.Element => (
    <Order label={label} ids={step[name]} others={others} onChange={(ids) => onField([name], ids)} />
  );
  return (
    <div className="step-form">
      {!own && (
        <p className="hint">
          A step that skills share. What you write here is used instead of the shared text; cues are added to
          the shared ones.
        </p>
      )}
      <Text label="What is marked" path={['text']} value={step.text} onField={onField} />
      {own && (
        <Text
          label="Short name, in lower-case words joined by hyphens"
          path={['id']}
          value={step.id}
          onField={onField}
        />
      )}
      <div className="choices">
        <Flag
          label="Critical: missing it fails the skill"
          name="critical"
          value={step.critical}
          onField={onField}
        />
        <Flag label="“I am going to…” is enough" name="plans" value={step.plans} onField={onField} />
      </div>
      {own && <KindChoice kind={kind} onKind={onKind} />}
      {kind !== 'eyes' && (
        <Lines
          label={own ? 'Cues, one a line' : 'More cues, one a line'}
          hint="Example sayings. {slot} stands for the lexicon’s wordings, ! requires the word before it."
          value={step.cues}
          onChange={(cues) => onField(['cues'], cues)}
        />
      )}
      <Evidence kind={kind} evidence={step.evidence} onField={onField} />
      <label className="field">
        <span>With a simulated resident, it does</span>
        <select value={step.bench} onChange={({ target }) => onField(['bench'], target.value)}>
          {['', ...ALL_BENCH_STEPS].map((does) => (
            <option key={does} value={does}>
              {does === '' ? 'nothing' : does}
            </option>
          ))}
        </select>
      </label>
      {order('after', 'Must come after')}
      {order('before', 'Must come before')}
      <div className="actions">
        <button type="button" className="button quiet" onClick={onShow}>
          Show it in the file
        </button>
        <button type="button" className="button quiet" onClick={onRemove}>
          Take “{nameOf(step)}” out
        </button>
      </div>
    </div>
  );
}

function KindChoice({ kind, onKind }: { readonly kind: Kind; readonly onKind: (kind: Kind) => void }) {
  return (
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
  );
}

/** The fields that the kind of evidence needs. */
function Evidence({
  kind,
  evidence,
  onField,
}: {
  readonly kind: Kind;
  readonly evidence: StepView['evidence'];
  readonly onField: OnField;
}) {
  const { numbers = [], texts = [], lists = [] } = FIELDS[kind];
  return (
    <>
      {[...numbers, ...texts].map((field) => {
        const [name, label] = field;
        return (
          <Text
            key={name}
            label={label}
            path={['evidence', name]}
            value={plain(evidence[name])}
            number={numbers.includes(field)}
            onField={onField}
          />
        );
      })}
      {lists.map(([name, label]) => (
        <Lines
          key={name}
          label={`${label}, one a line`}
          value={listOf(evidence[name])}
          onChange={(value) => onField(['evidence', name], value)}
        />
      ))}
    </>
  );
}

function Text({
  label,
  path,
  value,
  number = false,
  onField,
}: {
  readonly label: string;
  readonly path: Path;
  readonly value: string;
  readonly number?: boolean;
  readonly onField: OnField;
}) {
  return (
    <label className="field">
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
}

/** A field that is either true or not there. */
function Flag({
  label,
  name,
  value,
  onField,
}: {
  readonly label: string;
  readonly name: string;
  readonly value: boolean;
  readonly onField: OnField;
}) {
  return (
    <label className="choice">
      <input
        type="checkbox"
        checked={value}
        onChange={({ target }) => onField([name], target.checked || null)}
      />
      {label}
    </label>
  );
}

const isKind = (kind: unknown): kind is Kind => typeof kind === 'string' && kind in KINDS;
const plain = (value: unknown): string =>
  typeof value === 'string' || typeof value === 'number' ? String(value) : '';
const listOf = (value: unknown): string[] => (Array.isArray(value) ? value.map(plain) : []);
