import { Link } from 'wouter';
import { knownVariants } from '../../app/skills/checklist.ts';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { ModelGetter } from '../parts/ModelGetter.tsx';
import { Shape } from '../parts/Shape.tsx';
import { useRehearsing } from '../rehearsing.tsx';
import { firstSkill, shortTry, type FirstStep } from './firstVisit.ts';

const TITLES: Readonly<Record<FirstStep, string>> = {
  model: 'Get the speech model',
  microphone: 'Check your microphone',
  try: 'Try it for a minute',
};

/** The way of a first visit: model, microphone, a short try. The first step that is not done is open. */
export function FirstVisit({ steps }: { readonly steps: readonly { step: FirstStep; done: boolean }[] }) {
  const now = steps.findIndex(({ done }) => !done);
  const left = steps.filter(({ done }) => !done).length;
  return (
    <section className="first-visit" aria-labelledby="first-visit">
      <h2 id="first-visit">Your first rehearsal</h2>
      <p>
        {steps.length - left} of {steps.length} steps done.
      </p>
      <ol>
        {steps.map(({ step, done }, i) => (
          <li
            key={step}
            className={`first-step${i === now ? ' now' : ''}`}
            aria-current={i === now ? 'step' : undefined}
          >
            <Shape mark={done ? 'heard' : 'open'} title={done ? 'done' : 'to do'} />
            <div>
              <h3>
                {i + 1}. {TITLES[step]}
              </h3>
              {i === now && <Doing step={step} />}
            </div>
          </li>
        ))}
      </ol>
    </section>
  );
}

function Doing({ step }: { readonly step: FirstStep }) {
  const { model, refresh } = useKnown();
  switch (step) {
    case 'model':
      return model && <ModelGetter model={model} onDone={() => void refresh()} />;
    case 'microphone':
      return (
        <>
          <p>A sound check with the tap running takes half a minute. It tells how well you will be heard.</p>
          <div className="actions">
            <Link href={ADDRESS.soundCheck} className="button main">
              Check the microphone
            </Link>
            <ShortTry text="Skip the check and try" />
          </div>
        </>
      );
    case 'try':
      return (
        <div className="actions">
          <ShortTry text="Start the short try" main />
        </div>
      );
  }
}

/** Starts a rehearsal of the first steps of the first skill. */
function ShortTry({ text, main = false }: { readonly text: string; readonly main?: boolean }) {
  const { library, settings, canHear } = useKnown();
  const { start } = useRehearsing();
  const skill = firstSkill(library);
  if (!skill) return null;
  const variants = knownVariants(skill, settings.skill === skill.id ? settings.variants : {});
  const steps = shortTry(skill, variants);
  return (
    <>
      {main && (
        <div className="try">
          <p>
            {skill.title}, only the first {steps.length} steps. Say them aloud in your own words; end with “I
            am finished”.
          </p>
          <ul>
            {steps.map(({ id, text: said }) => (
              <li key={id}>{said}</li>
            ))}
          </ul>
        </div>
      )}
      <button
        type="button"
        className={`button${main ? ' main' : ''}`}
        disabled={!canHear}
        onClick={() => start(skill, variants, new Set(steps.map(({ id }) => id)))}
      >
        {text}
      </button>
    </>
  );
}
