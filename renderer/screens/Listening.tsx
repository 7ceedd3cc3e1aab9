import { useEffect, useRef, useState } from 'react';
import { LISTENING, TITLES, type Listening as Choice, type Trial } from '../../app/settings/choice.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { bestHere, chosenOf, modelOf, modelsOf, nameOf, rivalModels } from '../models.ts';
import { useKnown, type Known } from '../known.tsx';
import { Heading } from '../parts/Heading.tsx';
import { ModelGetter } from '../parts/ModelGetter.tsx';
import { runTrial } from '../room/trial.ts';
import { localDate, megabytes, percent } from '../words.ts';

/** A trial that is going on: the choices still to come, the first of them now. */
interface Running {
  readonly choices: readonly Choice[];
  readonly share: number;
}

/** What listens on this machine, how well each choice did here, and which is used. */
export function Listening() {
  const { settings, models, refresh } = useKnown();
  const best = bestHere(settings, models);
  return (
    <main className="page">
      <Heading>How it hears you</Heading>
      <p>
        {best.trial
          ? `On this machine “${TITLES[best.listening][0]}” did best: ${describe(best.trial)}.`
          : `Nothing has been measured here yet, or only what is not meant for people’s voices: “${TITLES[best.listening][0]}” is used.`}
      </p>
      <EngineChoice />
      <ModelChoice />
      <Measuring />
      {models
        .filter(({ installed }) => installed !== 'installed')
        .map((model) => (
          <section key={model.id} aria-label={model.id}>
            <h2>{model.id}</h2>
            <p>{model.note}</p>
            <ModelGetter model={model} onDone={() => void refresh()} />
          </section>
        ))}
    </main>
  );
}

const isHere = ({ settings, models }: Known, choice: Choice): boolean =>
  modelsOf(settings, models, choice).every(({ installed }) => installed === 'installed');

/** Which engine listens, or both. */
function EngineChoice() {
  const { settings, models, saveSettings } = useKnown();
  return (
    <fieldset className="cards">
      <legend>Listen with</legend>
      <label className="card">
        <input
          type="radio"
          name="listening"
          checked={settings.engine === null}
          onChange={() => saveSettings({ ...settings, engine: null })}
        />
        <span className="card-title">Whatever did best here</span>
        <span className="card-facts">now: {TITLES[bestHere(settings, models).listening][0]}</span>
      </label>
      {LISTENING.map((choice) => (
        <EngineCard key={choice} choice={choice} />
      ))}
    </fieldset>
  );
}

function EngineCard({ choice }: { readonly choice: Choice }) {
  const known = useKnown();
  const { settings, models, saveSettings } = known;
  const [title, text] = TITLES[choice];
  const trial = settings.trials.find(
    ({ listening, name }) => listening === choice && name === nameOf(settings, models, choice),
  );
  return (
    <label className="card">
      <input
        type="radio"
        name="listening"
        checked={settings.engine === choice}
        disabled={!isHere(known, choice)}
        onChange={() => saveSettings({ ...settings, engine: choice })}
      />
      <span className="card-title">
        {title}
        {chosenOf(settings, models) === choice && ' ✓'}
      </span>
      <span className="card-text">{text}</span>
      {modelsOf(settings, models, choice).map(({ id, licence, bytes, installed, forPeople, note }) => (
        <span key={id} className="card-facts">
          {id}, {megabytes(bytes)}, {licence}
          {installed === 'installed' ? '' : ': not here'}
          {forPeople ? '' : `. ${note}`}
        </span>
      ))}
      {trial ? <Measured trial={trial} /> : <span className="card-facts">Not measured here yet.</span>}
    </label>
  );
}

/** Measures every choice that is here, one after the other. */
function useTrials() {
  const known = useKnown();
  const [running, setRunning] = useState<Running | null>(null);
  const [trouble, setTrouble] = useState('');
  const abort = useRef(new AbortController());
  useEffect(() => () => abort.current.abort(), []);
  const measure = async (): Promise<void> => {
    const { library, settings, models, saveSettings } = known;
    const { signal } = (abort.current = new AbortController());
    setTrouble('');
    let { trials } = settings;
    const choices = LISTENING.filter((choice) => isHere(known, choice));
    try {
      for (const [i, choice] of choices.entries()) {
        const left = choices.slice(i);
        setRunning({ choices: left, share: 0 });
        const trial = await runTrial(choice, library, settings, models, signal, (share) =>
          setRunning({ choices: left, share }),
        );
        trials = [...trials.filter(({ listening }) => listening !== choice), trial];
        saveSettings({ ...settings, trials });
      }
    } catch (error) {
      if (!signal.aborted) setTrouble(messageOf(error));
    }
    setRunning(null);
  };
  return { running, trouble, measure: () => void measure(), stop: () => abort.current.abort() };
}

function Measuring() {
  const { running, trouble, measure, stop } = useTrials();
  const [now] = running?.choices ?? [];
  return (
    <section className="check" aria-label="Measuring" aria-live="polite">
      {running && now ? (
        <>
          <p>
            Hearing the built-in narration with “{TITLES[now][0]}”, at the speed it was spoken in.{' '}
            {running.choices.length > 1 && `${running.choices.length - 1} more after it.`}
          </p>
          <progress aria-label="Measuring" value={running.share} max={1} />
          <button type="button" className="button" onClick={stop}>
            Stop measuring
          </button>
        </>
      ) : (
        <button type="button" className="button main" onClick={measure}>
          Measure on this machine
        </button>
      )}
      {trouble !== '' && <p role="alert">{trouble}</p>}
      <p className="hint">
        It takes a minute and a half for each. The narration is spoken by a synthetic voice: it tells how fast
        this machine is and whether everything works, not how well your own voice is understood. A sound check
        does that.
      </p>
    </section>
  );
}

/** Which of several models for one engine listens; nothing where each engine has one at most. */
function ModelChoice() {
  const { settings, models, saveSettings: onSettings } = useKnown();
  const rivals = rivalModels(models);
  if (rivals.length === 0) return null;
  const set = rivals.find(({ id }) => id === settings.model);
  const usual = rivals.filter(
    (model) => modelOf({ ...settings, model: null }, models, model.engine) === model,
  );
  return (
    <fieldset className="cards">
      <legend>Speech model</legend>
      <label className="card">
        <input
          type="radio"
          name="model"
          checked={!set}
          onChange={() => onSettings({ ...settings, model: null })}
        />
        <span className="card-title">The usual one</span>
        <span className="card-facts">now: {usual.map(({ id }) => id).join(', ')}</span>
      </label>
      {rivals.map(({ id, note, bytes, licence }) => (
        <label key={id} className="card">
          <input
            type="radio"
            name="model"
            checked={set?.id === id}
            onChange={() => onSettings({ ...settings, model: id })}
          />
          <span className="card-title">{id}</span>
          <span className="card-text">{note}</span>
          <span className="card-facts">
            {megabytes(bytes)}, {licence}
          </span>
        </label>
      ))}
    </fieldset>
  );
}

function seconds(delay: number | null): string {
  if (delay === null) return 'never';
  return delay < 0 ? `${(-delay).toFixed(1)} s before its end` : `${delay.toFixed(1)} s after it`;
}

function describe({ right, of, wrong, tick, settled }: Trial): string {
  return `${right} of ${of} steps marked rightly, ${wrong === 0 ? 'none' : wrong} credited falsely, a saying ticked ${seconds(tick)} and settled ${seconds(settled)}`;
}

/** A trial, to be looked at: bars for what is right, figures beside them. */
function Measured({ trial }: { readonly trial: Trial }) {
  const { right, of, wrong, wrongCritical, tick, settled, bytes, at } = trial;
  return (
    <span className="measured">
      <meter aria-label="Steps marked rightly" value={right} max={of} />
      <span>
        {right} of {of} right ({percent(right / of)})
        {wrong > 0 &&
          `, ${wrong} falsely credited${wrongCritical > 0 ? `, ${wrongCritical} of them critical` : ''}`}
      </span>
      <span>Tick {seconds(tick)}</span>
      <span>Settled {seconds(settled)}</span>
      <span>Memory {bytes === null ? 'not told by this browser' : megabytes(bytes)}</span>
      <span className="hint">{localDate(at)}</span>
    </span>
  );
}
