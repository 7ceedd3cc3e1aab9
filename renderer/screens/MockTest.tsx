import { useState } from 'react';
import type { Library, RehearsalSummary } from '../../app/host/api.ts';
import type { Rules } from '../../app/skills/skill.ts';
import { percent } from '../words.ts';
import { CannotDraw, weaknessOf } from '../../app/skills/draw.ts';
import { hasReading } from '../../app/skills/form.ts';
import { mannerPolicy } from '../../app/skills/manner.ts';
import { BY_HAND, drawTest, pickTest, type TestPlan } from '../../app/run/testPlan.ts';
import { ResidentChoice } from '../atBench/ResidentChoice.tsx';
import { MicrophoneStanding } from '../loudness/MicrophoneStanding.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { useKnown } from '../known.tsx';
import { useRehearsing } from '../rehearsing.tsx';

/** Draws are numbered up to this, so that a number can be read out and typed in. */
const MOST_SEED = 100_000;

/** What was chosen for a mock test before it is drawn. */
interface Choice {
  /** Id of a form, or {@link BY_HAND}. */
  readonly form: string;
  /** Whether what goes least well is drawn more often. */
  readonly weakest: boolean;
  /** Number of the draw as typed; empty for a new one. */
  readonly seed: string;
  /** Ids of the skills picked by hand, in their order. */
  readonly picked: readonly string[];
  /** Id of the rules; null for those of the form. */
  readonly rules: string | null;
}

/** A part of the choice, and how it is changed. */
interface Part {
  readonly choice: Choice;
  readonly onChange: (change: Partial<Choice>) => void;
}

/** The rules in force for a choice. */
function rulesOf({ form, rules }: Choice, library: Library): Rules {
  const ofForm = library.forms.find(({ id }) => id === form)?.rules ?? library.rules.id;
  return library.ruleSets.find(({ id }) => id === (rules ?? ofForm)) ?? library.rules;
}

/** Draws what was chosen. Throws {@link CannotDraw}. */
function planFor(choice: Choice, library: Library, rehearsals: readonly RehearsalSummary[]): TestPlan {
  const rules = rulesOf(choice, library).id;
  if (choice.form === BY_HAND) return pickTest(library, choice.picked, rules);
  const number = choice.seed.trim() === '' ? Math.floor(Math.random() * MOST_SEED) : Number(choice.seed);
  if (!Number.isInteger(number) || number < 0)
    throw new CannotDraw(`The number of a draw is a whole number, not "${choice.seed}".`);
  const past = rehearsals.flatMap(({ skills }) => skills);
  return drawTest(library, choice.form, number, {
    rules,
    ...(choice.weakest && { weakness: weaknessOf(library.skills, past) }),
  });
}

/** Choosing, drawing and starting a mock test. */
export function MockTest() {
  const { library, rehearsals, settings, saveSettings, listening, canHear } = useKnown();
  const { startTest } = useRehearsing();
  const [choice, setChoice] = useState<Choice>({
    form: library.forms[0]?.id ?? BY_HAND,
    weakest: false,
    seed: '',
    picked: [],
    rules: null,
  });
  const [plan, setPlan] = useState<TestPlan | null>(null);
  const [problem, setProblem] = useState('');
  const byHand = choice.form === BY_HAND;
  const draws = plan ? 'Draw again' : 'Draw';
  const make = (): void => {
    try {
      setPlan(planFor(choice, library, rehearsals));
      setProblem('');
    } catch (error) {
      if (!(error instanceof CannotDraw)) throw error;
      setPlan(null);
      setProblem(error.message);
    }
  };
  const part: Part = {
    choice,
    onChange: (change) => {
      setChoice({ ...choice, ...change });
      setPlan(null);
    },
  };
  return (
    <main className="page">
      <Heading>Mock test</Heading>
      <FormChoice {...part} />
      {byHand ? <Picking {...part} /> : <Drawing {...part} />}
      <RulesChoice {...part} />
      {problem !== '' && (
        <p className="notice" role="alert">
          {problem}
        </p>
      )}
      {plan && <Drawn plan={plan} />}
      {plan?.checklists.some(({ skill }) => skill.bench) && (
        <ResidentChoice
          resident={settings.resident}
          onChange={(resident) => saveSettings({ ...settings, resident })}
        />
      )}
      <MicrophoneStanding settings={settings} listening={listening} />
      <div className="actions">
        {plan && (
          <button type="button" className="button main" disabled={!canHear} onClick={() => startTest(plan)}>
            Start the mock test
          </button>
        )}
        <button type="button" className={`button${plan ? '' : ' main'}`} onClick={make}>
          {byHand ? 'Take these skills' : draws}
        </button>
      </div>
      <Caution />
    </main>
  );
}

function FormChoice({ choice, onChange }: Part) {
  const { library } = useKnown();
  return (
    <fieldset className="choices">
      <legend>Which skills?</legend>
      {[...library.forms, { id: BY_HAND, title: 'Picked by hand' }].map(({ id, title }) => (
        <label key={id} className="choice">
          <input
            type="radio"
            name="form"
            checked={choice.form === id}
            onChange={() => onChange({ form: id })}
          />
          {title}
        </label>
      ))}
    </fieldset>
  );
}

function Picking({ choice: { picked }, onChange }: Part) {
  const { library } = useKnown();
  const toggle = (id: string): void =>
    onChange({ picked: picked.includes(id) ? picked.filter((each) => each !== id) : [...picked, id] });
  return (
    <fieldset className="choices">
      <legend>In the order you pick them</legend>
      {library.skills.map(({ id, title }) => (
        <label key={id} className="choice">
          <input type="checkbox" checked={picked.includes(id)} onChange={() => toggle(id)} />
          {picked.includes(id) && <strong>{picked.indexOf(id) + 1}.</strong>} {title}
        </label>
      ))}
    </fieldset>
  );
}

function Drawing({ choice: { weakest, seed }, onChange }: Part) {
  return (
    <fieldset className="choices">
      <legend>The draw</legend>
      <label className="choice">
        <input
          type="checkbox"
          checked={weakest}
          onChange={({ target }) => onChange({ weakest: target.checked })}
        />
        <span>
          More of what I do least well
          <span className="hint">By your past rehearsals; what you never tried counts as weak.</span>
        </span>
      </label>
      <label className="choice">
        <span>
          Number of the draw
          <span className="hint">Leave it empty for a new one. The same number draws the same skills.</span>
        </span>
        <input
          className="number"
          inputMode="numeric"
          value={seed}
          onChange={({ target }) => onChange({ seed: target.value })}
        />
      </label>
    </fieldset>
  );
}

function RulesChoice({ choice, onChange }: Part) {
  const { library } = useKnown();
  const inForce = rulesOf(choice, library);
  return (
    <>
      <fieldset className="choices">
        <legend>Rules</legend>
        {library.ruleSets.map((rules) => (
          <label key={rules.id} className="choice">
            <input
              type="radio"
              name="rules"
              checked={inForce.id === rules.id}
              onChange={() => onChange({ rules: rules.id })}
            />
            <span>
              {rules.title}
              <span className="hint">{describeRules(rules)}</span>
            </span>
          </label>
        ))}
      </fieldset>
      <p className="hint">
        {mannerPolicy(inForce)} These rules are this program’s own. Your programme’s handbook decides.
      </p>
    </>
  );
}

const describeRules = ({ minutes, share, skillsToPass, silent }: Rules): string =>
  [
    minutes === undefined ? 'No limit of time' : `${minutes} minutes`,
    `${percent(share)} of the steps and every critical one`,
    `${skillsToPass === undefined ? 'all skills' : `${skillsToPass} skills`} must pass`,
    silent ? 'nothing is marked before the end' : 'steps are shown as they are heard',
  ].join('; ');

function Drawn({ plan: { seed, checklists } }: { readonly plan: TestPlan }) {
  return (
    <section className="notice" aria-label="The test">
      <p role="status">
        <strong>
          {seed === null ? 'Your test:' : `Draw number ${seed}:`} {checklists.length} skills
        </strong>
      </p>
      <ol>
        {checklists.map(({ skill }, i) => (
          <li key={i}>
            {i + 1}. {skill.title}
            {hasReading(skill) ? ' (a number to record)' : ''}
          </li>
        ))}
      </ol>
    </section>
  );
}
