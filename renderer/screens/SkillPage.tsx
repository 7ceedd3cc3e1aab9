import { useState } from 'react';
import { Link } from 'wouter';
import { knownVariants, stepsOf } from '../../app/skills/checklist.ts';
import { mannerPolicy } from '../../app/skills/manner.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { ADDRESS } from '../addresses.ts';
import { ResidentChoice } from '../atBench/ResidentChoice.tsx';
import { lastRuns } from '../home/lastRun.ts';
import { useKnown } from '../known.tsx';
import { MicrophoneStanding } from '../loudness/MicrophoneStanding.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { ModelGetter } from '../parts/ModelGetter.tsx';
import { Shape } from '../parts/Shape.tsx';
import { WhoRehearses } from '../people/WhoRehearses.tsx';
import { StepText } from '../parts/StepText.tsx';
import { useRehearsing } from '../rehearsing.tsx';

const STYLES = [
  ['coach', 'Coach', 'Shows what is still open, and nudges you when you fall silent.'],
  ['silent', 'Silent, as in a test', 'Shows what was heard, and helps with nothing.'],
] as const;

type Variants = Readonly<Record<string, string>>;

/** One skill, before hands get wet: its card, what to lay ready, how it is to be rehearsed. */
export function SkillPage({ id }: { readonly id: string }) {
  const { library } = useKnown();
  const skill = library.skills.find((each) => each.id === id);
  if (skill) return <Ready skill={skill} />;
  return (
    <main className="page">
      <Heading>There is no such skill</Heading>
      <p>
        No skill here is called “{id}”. It may have been taken out or renamed.{' '}
        <Link href={ADDRESS.home}>Choose another.</Link>
      </p>
    </main>
  );
}

function Ready({ skill }: { readonly skill: Skill }) {
  const { settings, saveSettings, model, canHear, listening, refresh } = useKnown();
  const { start } = useRehearsing();
  const [variants, setVariants] = useState<Variants>(() =>
    // What was chosen last time for this skill, and the defaults of what was not.
    knownVariants(skill, settings.skill === skill.id ? settings.variants : {}),
  );
  const begin = (event: React.FormEvent): void => {
    event.preventDefault();
    if (canHear) start(skill, variants);
  };
  return (
    <main className="page">
      <header className="page-head">
        <p>
          <Link href={ADDRESS.home}>All skills</Link>
        </p>
        <Heading>{skill.title}</Heading>
        <Last skill={skill} />
      </header>
      <WhoRehearses />
      {model && !canHear && <ModelGetter model={model} onDone={() => void refresh()} />}
      <section className="task-card" aria-label="The card">
        <p className="card-text">{skill.card.trim()}</p>
      </section>
      <Before skill={skill} />
      {skill.steps.some(({ evidence }) => evidence.kind === 'reading') && (
        <p>
          <Link href={ADDRESS.bench}>Practise the measuring on a simulated resident</Link>
        </p>
      )}
      <Steps skill={skill} variants={variants} />
      <form onSubmit={begin}>
        <VariantChoice skill={skill} variants={variants} onChange={setVariants} />
        {skill.bench && (
          <ResidentChoice
            resident={settings.resident}
            onChange={(resident) => saveSettings({ ...settings, resident })}
          />
        )}
        <Coaching />
        <div className="hearing">
          <MicrophoneStanding settings={settings} listening={listening} />
          <Link href={ADDRESS.soundCheck} className="button">
            Sound check
          </Link>
        </div>
        <div className="actions">
          <button type="submit" className="button main" disabled={!canHear}>
            Start the rehearsal
          </button>
        </div>
      </form>
      <Caution />
    </main>
  );
}

function Last({ skill }: { readonly skill: Skill }) {
  const { rehearsals } = useKnown();
  const { mark, words } = lastRuns(rehearsals)(skill.id);
  return (
    <p className="last-run">
      <span aria-hidden="true">
        <Shape mark={mark} />
      </span>
      {mark === 'open' ? words : `Last time: ${words}`}
    </p>
  );
}

function Before({ skill: { equipment, cautions } }: { readonly skill: Skill }) {
  if (equipment.length + cautions.length === 0) return null;
  return (
    <section aria-label="Before you start" className="before">
      {equipment.length > 0 && (
        <p>
          <strong>Lay ready:</strong> {equipment.join(', ')}.
        </p>
      )}
      {cautions.length > 0 && (
        <ul className="bullets">
          {cautions.map((caution) => (
            <li key={caution}>{caution}</li>
          ))}
        </ul>
      )}
    </section>
  );
}

function Steps({ skill, variants }: { readonly skill: Skill; readonly variants: Variants }) {
  const steps = stepsOf(skill, variants);
  return (
    <details className="fold">
      <summary>
        {steps.length} steps, {steps.filter((step) => step.critical).length} critical
      </summary>
      <ol className="bullets">
        {steps.map(({ id, text, critical }) => (
          <li key={id}>
            <StepText text={text} critical={critical} />
          </li>
        ))}
      </ol>
    </details>
  );
}

function VariantChoice({
  skill,
  variants,
  onChange,
}: {
  readonly skill: Skill;
  readonly variants: Variants;
  readonly onChange: (variants: Variants) => void;
}) {
  return Object.entries(skill.variants).map(([name, { question, options }]) => (
    <fieldset key={name} className="choices">
      <legend>{question}</legend>
      {Object.entries(options).map(([value, text]) => (
        <label key={value} className="choice">
          <input
            type="radio"
            name={`variant-${name}`}
            checked={variants[name] === value}
            onChange={() => onChange({ ...variants, [name]: value })}
          />
          {text}
        </label>
      ))}
    </fieldset>
  ));
}

function Coaching() {
  const { library, settings, saveSettings } = useKnown();
  return (
    <>
      <fieldset className="choices">
        <legend>Coaching</legend>
        {STYLES.map(([style, title, text]) => (
          <label key={style} className="choice">
            <input
              type="radio"
              name="style"
              checked={settings.style === style}
              onChange={() => saveSettings({ ...settings, style })}
            />
            <span>
              {title}
              <span className="hint">{text}</span>
            </span>
          </label>
        ))}
      </fieldset>
      <fieldset className="choices">
        <legend>How it begins and counts</legend>
        <label className="choice">
          <input
            type="checkbox"
            checked={settings.continued}
            onChange={({ target }) => saveSettings({ ...settings, continued: target.checked })}
          />
          <span>
            Hands just washed, the resident knows me
            <span className="hint">
              As in a later skill of a test: what carries over need not be said again.
            </span>
          </span>
        </label>
        <p className="hint">{mannerPolicy(library.rules)}</p>
      </fieldset>
    </>
  );
}
