import { useEffect, useMemo, useSyncExternalStore } from 'react';
import { Banners } from '../parts/Banner.tsx';
import { Dial } from '../parts/Dial.tsx';
import { Heading } from '../parts/Heading.tsx';
import { Meter } from '../parts/Meter.tsx';
import { MEANING, Shape } from '../parts/Shape.tsx';
import { StepText } from '../parts/StepText.tsx';
import { NEVER_CHECKED } from '../loudness/MicrophoneStanding.tsx';
import { Clicker, CLICKER_KEYS } from '../clicker.ts';
import type { Plan, Room as RoomModel, RoomShown } from '../room/room.ts';
import { dialOf, latestOf, openOf, rowsOf, testOf } from '../room/roomView.ts';
import { percent } from '../words.ts';
import type { Command } from '../../app/language/commands.ts';
import { shareNarrated } from '../../app/run/talk.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { capitalised } from '../../app/language/words.ts';

const KEYS: Readonly<Record<string, Command>> = {
  r: 'read card',
  t: 'time left',
  s: 'scrub time',
  c: 'correct',
  n: 'next skill',
};

/** How many steps are shown large. More would be too small to read from two metres. */
const LATEST = 4;
const OPEN = 3;

/** Keys of the room. Nothing else in it takes the focus, so they work wherever it is. */
function useKeys(room: RoomModel): void {
  useEffect(() => {
    const clicker = new Clicker((press) => (press === 'stop' ? room.press('stop') : room.pressMain()));
    const down = (event: KeyboardEvent): void => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const command = KEYS[event.key.toLowerCase()];
      if (CLICKER_KEYS.has(event.key)) clicker.down();
      else if (event.repeat) return;
      else if (event.key === ' ') room.pressMain();
      else if (event.key === 'Escape') room.press('stop');
      else if (command) room.press(command);
      else return;
      event.preventDefault();
    };
    const up = (event: KeyboardEvent): void => {
      if (CLICKER_KEYS.has(event.key)) clicker.up();
    };
    window.addEventListener('keydown', down);
    window.addEventListener('keyup', up);
    return () => {
      window.removeEventListener('keydown', down);
      window.removeEventListener('keyup', up);
      clicker.close();
    };
  }, [room]);
}

/** The rehearsal itself, to be read from two metres. */
export function Room({ room }: { readonly room: RoomModel }) {
  const shownNow = useSyncExternalStore(room.subscribe, room.snapshot);
  const { phase, checklist, opened, state, now, partial, caption, level, troubles } = shownNow;
  useKeys(room);
  const { settings, only, test: plan } = room.plan;
  /** A test tells nothing of how it goes. */
  const silent = plan?.rules.silent ?? false;
  const rows = useMemo(() => rowsOf(checklist, state, only), [checklist, state, only]);
  const coach = settings.style === 'coach' && !silent;
  const test = testOf(checklist, state, now);
  const dial = silent ? test : dialOf(checklist, state, now);
  const paused = state.paused !== null;
  const waiting = phase === 'opening' || phase === 'ready';
  const narrated = coach && !waiting ? shareNarrated(checklist, state, now) : null;
  const heard = state.utterances.at(-1)?.text ?? '';
  const shown = coach ? rows : rows.filter(({ at }) => at !== null);

  return (
    <main className={`room${paused ? ' room-paused' : ''}${waiting ? ' room-waiting' : ''}`}>
      <header className="room-head">
        <Heading className="room-title">{checklist.skill.title}</Heading>
        {plan && (
          <p className="room-place">
            Skill {opened} of {plan.checklists.length}
          </p>
        )}
        <p className="room-status">{statusOf(phase, paused, state.correcting !== null)}</p>
        {narrated !== null && <p className="room-talk">{percent(narrated)} narrated</p>}
        {dial.kind !== 'test' && (
          <p className="room-test">
            <span aria-hidden="true">◷ </span>
            {minutes(test.seconds)}
            {test.of !== null && ` of ${minutes(test.of)}`}
          </p>
        )}
        <Meter level={level} small />
      </header>

      <Banners troubles={troubles}>
        {phase === 'opening' && (
          <button type="button" className="button" onClick={() => room.press('stop')}>
            Back to the start
          </button>
        )}
      </Banners>

      {!silent && (
        <ol className="strip" aria-label="Steps">
          {shown.map(({ id, text, critical, state: mark }) => (
            <li key={id} className={critical ? 'critical' : ''}>
              <Shape mark={mark} title={`${text}: ${MEANING[mark]}${critical ? ', critical' : ''}`} />
            </li>
          ))}
        </ol>
      )}

      <div className="room-body">
        <div className="room-left">
          {!waiting && <Dial dial={dial} />}
          {(!silent || waiting) && <p className="room-card">{checklist.skill.card.trim()}</p>}
        </div>
        <div className="room-right">
          <Beside room={shownNow} plan={room.plan} rows={rows} />
        </div>
      </div>

      <footer className="room-foot">
        <p className="heard">
          <span className="visually-hidden">Heard: </span>
          {partial !== '' ? <span className="partial">{partial.replace(/[.,?!]+$/, '')}…</span> : heard}
        </p>
        <p className="said" aria-live="polite">
          {caption !== '' && (
            <>
              <span className="said-who">Coach</span> {caption}
            </>
          )}
        </p>
      </footer>
      <p className="legend">
        <kbd>Space</kbd> pause, go on <kbd>R</kbd> card <kbd>T</kbd> time left <kbd>S</kbd> scrub time{' '}
        <kbd>C</kbd> correct <kbd>N</kbd> next skill <kbd>Esc</kbd> stop. One button: short press as Space,
        long or double press stops.
      </p>
    </main>
  );
}

function statusOf(phase: string, paused: boolean, correcting: boolean): string {
  if (paused) return 'Paused: say “go on”';
  if (correcting) return 'Correcting: say the step again';
  if (phase === 'opening') return 'Getting ready…';
  if (phase === 'ending') return 'Marking…';
  return phase === 'ready' ? 'Ready' : 'Listening';
}

/** What stands beside the card or the clock: how to begin, the card of a silent test, or what was credited and is still open. */
function Beside({
  room: { phase, checklist, unchecked },
  plan: { settings, test },
  rows,
}: {
  readonly room: RoomShown;
  readonly plan: Plan;
  readonly rows: ReturnType<typeof rowsOf>;
}) {
  const lookAround = test?.rules.lookAround ?? 0;
  if (phase === 'ready')
    return (
      <div className="room-invite">
        <p>
          Say <q>I am ready</q>, or press Space.
          {lookAround > 0 && ` The time begins by itself after ${minutes(60 * lookAround)}.`}
        </p>
        {unchecked && <p>{NEVER_CHECKED}</p>}
      </div>
    );
  if (phase === 'opening') return null;
  if (test?.rules.silent)
    return (
      <div>
        <p className="room-card room-card-large">{checklist.skill.card.trim()}</p>
        <p>
          As in a test, nothing is marked before the end. Say <q>next skill</q> when you have finished.
        </p>
      </div>
    );
  const open = openOf(rows);
  return (
    <>
      <h2 className="visually-hidden">Credited</h2>
      <ul className="latest" aria-live="polite" aria-relevant="additions text">
        {latestOf(rows, LATEST).map(({ id, text, state: mark, critical, note }) => (
          <li key={`${id} ${mark}`} className={`latest-${mark.replaceAll(' ', '-')}`}>
            <Shape mark={mark} />
            <span>
              <StepText text={text} critical={critical} />
              {mark !== 'heard' && (
                <span className="why">
                  {capitalised(MEANING[mark])}
                  {note !== '' && `: ${note}`}
                </span>
              )}
            </span>
          </li>
        ))}
      </ul>
      {settings.style === 'coach' && open.length > 0 && (
        <section className="open">
          <h2>Still open</h2>
          <ul>
            {open.slice(0, OPEN).map(({ id, text, state: mark, critical }) => (
              <li key={id}>
                <Shape mark={mark} />
                <span>
                  <StepText text={text} critical={critical} />
                </span>
              </li>
            ))}
          </ul>
          {open.length > OPEN && <p>and {open.length - OPEN} more</p>}
        </section>
      )}
    </>
  );
}
