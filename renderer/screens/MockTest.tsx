import { useState } from 'react';
import { CannotDraw, weaknessOf } from '../../app/skills/draw.ts';
import { hasReading } from '../../app/skills/form.ts';
import { mannerPolicy } from '../../app/skills/manner.ts';
import { BY_HAND, drawTest, pickTest, type TestPlan } from '../../app/run/testPlan.ts';
import { MicrophoneStanding } from '../loudness/MicrophoneStanding.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { useKnown } from '../known.tsx';
import { useRehearsing } from '../rehearsing.tsx';

/** Draws are numbered up to this, so that a number can be read out and typed in. */
const MOST_SEED = 100_000;

/** Choosing, drawing and starting a mock test. */
export function MockTest() {
  const { library, rehearsals, settings, listening, canHear } = useKnown();
  const { startTest } = useRehearsing();
  const [form, setForm] = useState(library.forms[0]?.id ?? BY_HAND);
  const [weakest, setWeakest] = useState(false);
  const [seed, setSeed] = useState('');
  const [picked, setPicked] = useState<readonly string[]>([]);
  const [rules, setRules] = useState<string | null>(null);
  const [plan, setPlan] = useState<TestPlan | null>(null);
  const [problem, setProblem] = useState('');

  const formRules = library.forms.find(({ id }) => id === form)?.rules ?? library.rules.id;
  const inForce = library.ruleSets.find(({ id }) => id === (rules ?? formRules)) ?? library.rules;

  const draws = plan ? 'Draw again' : 'Draw';
  const make = (): void => {
    try {
      setPlan(makePlan());
      setProblem('');
    } catch (error) {
      if (!(error instanceof CannotDraw)) throw error;
      setPlan(null);
      setProblem(error.message);
    }
  };
  const makePlan = (): TestPlan => {
    if (form === BY_HAND) return pickTest(library, picked, inForce.id);
    const number = seed.trim() === '' ? Math.floor(Math.random() * MOST_SEED) : Number(seed);
    if (!Number.isInteger(number) || number < 0)
      throw new CannotDraw(`The number of a draw is a whole number, not "${seed}".`);
    const past = rehearsals.flatMap(({ skills }) => skills);
    return drawTest(library, form, number, {
      rules: inForce.id,
      ...(weakest && { weakness: weaknessOf(library.skills, past) }),
    });
  };
  const changed =
    <T,>(set: (value: T) => void) =>
    (value: T): void => {
      set(value);
      setPlan(null);
    };
  const toggle = (id: string): void =>
    changed(setPicked)(picked.includes(id) ? picked.filter((each) => each !== id) : [...picked, id]);

  return (
    <main className="page">
      <Heading>Mock test</Heading>
      <fieldset className="choices">
        <legend>Which skills?</legend>
        {library.forms.map(({ id, title }) => (
          <label key={id} className="choice">
            <input type="radio" name="form" checked={form === id} onChange={() => changed(setForm)(id)} />
            {title}
          </label>
        ))}
        <label className="choice">
          <input
            type="radio"
            name="form"
            checked={form === BY_HAND}
            onChange={() => changed(setForm)(BY_HAND)}
          />
          Picked by hand
        </label>
      </fieldset>

      {form === BY_HAND ? (
        <fieldset className="choices">
          <legend>In the order you pick them</legend>
          {library.skills.map(({ id, title }) => (
            <label key={id} className="choice">
              <input type="checkbox" checked={picked.includes(id)} onChange={() => toggle(id)} />
              {picked.includes(id) && <strong>{picked.indexOf(id) + 1}.</strong>} {title}
            </label>
          ))}
        </fieldset>
      ) : (
        <fieldset className="choices">
          <legend>The draw</legend>
          <label className="choice">
            <input
              type="checkbox"
              checked={weakest}
              onChange={({ target }) => changed(setWeakest)(target.checked)}
            />
            <span>
              More of what I do least well
              <span className="hint">By your past rehearsals; what you never tried counts as weak.</span>
            </span>
          </label>
          <label className="choice">
            <span>
              Number of the draw
              <span className="hint">
                Leave it empty for a new one. The same number draws the same skills.
              </span>
            </span>
            <input
              className="number"
              inputMode="numeric"
              value={seed}
              onChange={({ target }) => changed(setSeed)(target.value)}
            />
          </label>
        </fieldset>
      )}

      <fieldset className="choices">
        <legend>Rules</legend>
        {library.ruleSets.map(({ id, title, minutes, share, skillsToPass, silent, nearFuture, would }) => (
          <label key={id} className="choice">
            <input
              type="radio"
              name="rules"
              checked={inForce.id === id}
              onChange={() => changed(setRules)(id)}
            />
            <span>
              {title}
              <span className="hint">
                {minutes === undefined ? 'No limit of time' : `${minutes} minutes`}; {Math.round(share * 100)}{' '}
                % of the steps and every critical one;{' '}
                {skillsToPass === undefined ? 'all skills' : `${skillsToPass} skills`} must pass;{' '}
                {silent ? 'nothing is marked before the end' : 'steps are shown as they are heard'}.{' '}
                {mannerPolicy({ nearFuture, would })}
              </span>
            </span>
          </label>
        ))}
      </fieldset>
      <p className="hint">These rules are this program’s own. Your programme’s handbook decides.</p>

      {problem !== '' && (
        <p className="notice" role="alert">
          {problem}
        </p>
      )}
      {plan && (
        <section className="notice" aria-label="The test">
          <p role="status">
            <strong>
              {plan.seed === null ? 'Your test:' : `Draw number ${plan.seed}:`} {plan.checklists.length}{' '}
              skills
            </strong>
          </p>
          <ol>
            {plan.checklists.map(({ skill }, i) => (
              <li key={i}>
                {i + 1}. {skill.title}
                {hasReading(skill) ? ' (a number to record)' : ''}
              </li>
            ))}
          </ol>
        </section>
      )}
      <MicrophoneStanding settings={settings} listening={listening} />
      <div className="actions">
        {plan && (
          <button type="button" className="button main" disabled={!canHear} onClick={() => startTest(plan)}>
            Start the mock test
          </button>
        )}
        <button type="button" className={`button${plan ? '' : ' main'}`} onClick={make}>
          {form === BY_HAND ? 'Take these skills' : draws}
        </button>
      </div>
      <Caution />
    </main>
  );
}
