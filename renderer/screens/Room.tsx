import { Fragment, useEffect, useMemo, useSyncExternalStore } from 'react';
import { AtBench } from '../atBench/AtBench.tsx';
import { Banners } from '../parts/Banner.tsx';
import { Dial } from '../parts/Dial.tsx';
import { Heading } from '../parts/Heading.tsx';
import { Meter } from '../parts/Meter.tsx';
import { ReadingLarge } from '../parts/ReadingLarge.tsx';
import { MEANING, Shape } from '../parts/Shape.tsx';
import { StandingSign, type Standing } from '../parts/StandingSign.tsx';
import { StepText } from '../parts/StepText.tsx';
import { NEVER_CHECKED } from '../loudness/MicrophoneStanding.tsx';
import { Clicker, CLICKER_KEYS } from '../browser/clicker.ts';
import type { Room as RoomModel, RoomShown } from '../room/room.ts';
import {
  dialOf,
  isReadingCard,
  lastWords,
  latestOf,
  openOf,
  rowsOf,
  testOf,
  type Row,
} from '../room/roomView.ts';
import { readingOf } from '../readings/readingView.ts';
import { percent } from '../words.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import type { Command } from '../../app/language/commands.ts';
import type { Rules } from '../../app/skills/skill.ts';
import { beamOf } from '../../app/marking/simulated.ts';
import { isAtHand } from '../../app/run/atBench/atBench.ts';
import { shareNarrated } from '../../app/run/talk.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { capitalised } from '../../app/language/words.ts';

/** What the screen needs of the room. */
export type RoomControl = Pick<
  RoomModel,
  'plan' | 'subscribe' | 'snapshot' | 'press' | 'pressMain' | 'handle' | 'moment'
>;

const KEYS: Readonly<Record<string, Command>> = {
  r: 'read card',
  t: 'time left',
  s: 'scrub time',
  c: 'correct',
  n: 'next skill',
};

/** How many steps are shown by name, those last credited and those still open. */
const LATEST = 4;
const OPEN = 3;
/** Characters of the trainee's own words that are shown: one line of a common window. */
const HEARD = 70;

/** Keys of the room. Nothing else in it takes the focus, so they work wherever it is. */
function useKeys(room: RoomControl): void {
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

/** The rehearsal itself, to be read from two metres: what listens, what was just credited, what is open, and the clock. */
export function Room({ room }: { readonly room: RoomControl }) {
  const shown = useSyncExternalStore(room.subscribe, room.snapshot);
  const { phase, checklist, state, now, caption, troubles } = shown;
  useKeys(room);
  const { settings, only, test: plan } = room.plan;
  const rows = useMemo(() => rowsOf(checklist, state, only), [checklist, state, only]);
  /** A test tells nothing of how it goes. */
  const silent = plan?.rules.silent ?? false;
  const coach = settings.style === 'coach' && !silent;
  const waiting = phase === 'opening' || phase === 'ready';
  const open = coach && !waiting ? openOf(rows) : [];
  const standing = standingOf(shown);
  const reading = coach ? readingOf(checklist, state, now) : null;
  /** The simulated resident, while there is something to measure: drawn where the clock is, whose digits would tell the time. */
  const bench = isAtHand(checklist, state) && !waiting ? state.bench : null;
  const dial = silent ? testOf(checklist, state, now) : dialOf(checklist, state, now);

  return (
    <main
      className={`room room-${standing}${waiting ? ' room-waiting' : ''}${silent ? ' room-silent' : ''}${bench ? ' room-at-bench' : ''}`}
    >
      <Head
        shown={shown}
        skills={plan?.checklists.length ?? 0}
        coach={coach}
        hasTime={dial.kind !== 'test' && !bench}
      />
      <div className="room-now">
        <p className="room-status">
          <StandingSign standing={standing} />
          <span>
            {STANDING[standing].name}
            <span className="room-do">{STANDING[standing].say}</span>
          </span>
        </p>
        {coach && !waiting && <p className="room-left">{open.length} open</p>}
      </div>
      <Banners troubles={troubles}>
        {phase === 'opening' && (
          <button type="button" className="button" onClick={() => room.press('stop')}>
            Back to the start
          </button>
        )}
      </Banners>
      {!silent && <Strip rows={coach ? rows : rows.filter(({ at }) => at !== null)} />}
      <div className="room-body">
        {bench && (
          <AtBench
            bench={bench}
            beam={beamOf(checklist)}
            settings={settings.resident}
            moment={room.moment}
            onAsk={(ask) => room.handle(ask)}
          />
        )}
        {!waiting && reading && <ReadingLarge reading={reading} />}
        {!waiting && !reading && !bench && <Dial dial={dial} />}
        {!waiting && !silent && <Marks rows={rows} open={open} />}
        {phase === 'ready' && <Invitation unchecked={shown.unchecked} rules={plan?.rules} />}
        {silent && !waiting && !bench && <Card checklist={checklist} isRead={false} />}
      </div>
      {(waiting || (!silent && !bench)) && (
        <Card checklist={checklist} isRead={isReadingCard(checklist, caption)} />
      )}
      {silent && !waiting && (
        <p>
          As in a test, nothing is marked before the end. Say <q>next skill</q> when you have finished.
        </p>
      )}
      <Foot shown={shown} />
      <Legend room={room} main={MAIN[standing]} />
    </main>
  );
}

const STANDING: Readonly<Record<Standing, { readonly name: string; readonly say: string }>> = {
  opening: { name: 'Getting ready…', say: '' },
  ready: { name: 'Ready', say: '' },
  listening: { name: 'Listening', say: '' },
  paused: { name: 'Paused', say: ': say “go on”' },
  correcting: { name: 'Correcting', say: ': say the step again' },
  ending: { name: 'Marking…', say: '' },
};

/** What the main key does. */
const MAIN: Readonly<Record<Standing, string>> = {
  opening: 'begin',
  ready: 'begin',
  listening: 'pause',
  paused: 'go on',
  correcting: 'pause',
  ending: 'pause',
};

function standingOf({ phase, state }: RoomShown): Standing {
  if (state.paused !== null) return 'paused';
  if (state.correcting !== null) return 'correcting';
  return phase === 'live' ? 'listening' : phase;
}

/** What one looks for close by: the skill, how much was narrated, the time, the microphone. */
function Head({
  shown: { phase, checklist, opened, state, now, level },
  skills,
  coach,
  hasTime,
}: {
  readonly shown: RoomShown;
  /** How many skills the mock test has; 0 where there is none. */
  readonly skills: number;
  readonly coach: boolean;
  /** Whether the time is to be shown here, since the large clock shows something else. */
  readonly hasTime: boolean;
}) {
  const isWaiting = phase === 'opening' || phase === 'ready';
  const narrated = coach && !isWaiting ? shareNarrated(checklist, state, now) : null;
  const { seconds, of } = testOf(checklist, state, now);
  return (
    <header className="room-head">
      <Heading className="room-title">{checklist.skill.title}</Heading>
      {skills > 0 && (
        <p>
          Skill {opened} of {skills}
        </p>
      )}
      {narrated !== null && <p>{percent(narrated)} narrated</p>}
      {hasTime && (
        <p>
          <span aria-hidden="true">◷ </span>
          {minutes(seconds)}
          {of !== null && ` of ${minutes(of)}`}
        </p>
      )}
      <Meter level={level} small />
    </header>
  );
}

/** Every step as a shape, in the order of the checklist. */
const Strip = ({ rows }: { readonly rows: readonly Row[] }) => (
  <ol className="strip" aria-label="Steps">
    {rows.map(({ id, text, critical, state }) => (
      <li key={id} className={critical ? 'critical' : ''}>
        <Shape mark={state} title={`${text}: ${MEANING[state]}${critical ? ', critical' : ''}`} />
      </li>
    ))}
  </ol>
);

/** What was just credited, what is open next, and what came before. */
function Marks({ rows, open }: { readonly rows: readonly Row[]; readonly open: readonly Row[] }) {
  const latest = latestOf(rows, LATEST);
  return (
    <div className="room-marks">
      <h2 className="visually-hidden">Credited</h2>
      <ul className="latest latest-now" aria-live="polite" aria-relevant="additions text">
        {latest.slice(0, 1).map((row) => (
          <Latest key={`${row.id} ${row.state}`} row={row} />
        ))}
      </ul>
      {open.length > 0 && (
        <section className="open">
          <h2>Still open</h2>
          <ul>{open.slice(0, 1).map(openItem)}</ul>
        </section>
      )}
      <ul className="open open-more" aria-label="Open after that">
        {open.slice(1, OPEN).map(openItem)}
      </ul>
      <ul className="latest latest-before" aria-label="Before that">
        {latest.slice(1).map((row) => (
          <Latest key={`${row.id} ${row.state}`} row={row} />
        ))}
      </ul>
    </div>
  );
}

const openItem = ({ id, text, state, critical }: Row) => (
  <li key={id}>
    <Shape mark={state} /> <StepText text={text} critical={critical} />
  </li>
);

const Latest = ({ row: { text, critical, state, note } }: { readonly row: Row }) => (
  <li className={`latest-${state.replaceAll(' ', '-')}`}>
    <Shape mark={state} />{' '}
    <span>
      <StepText text={text} critical={critical} />
    </span>
    {state !== 'heard' && (
      <p className="why">
        {capitalised(MEANING[state])}
        {note !== '' && `: ${note}`}
      </p>
    )}
  </li>
);

/** How to begin. */
function Invitation({
  unchecked,
  rules,
}: {
  readonly unchecked: boolean;
  readonly rules: Rules | undefined;
}) {
  const lookAround = rules?.lookAround ?? 0;
  return (
    <div className="room-invite">
      <p>
        Say <q>I am ready</q>, or press <span className="by-key">Space</span>
        <span className="by-touch">Begin</span>.
      </p>
      {lookAround > 0 && <p>The time begins by itself after {minutes(60 * lookAround)}.</p>}
      {unchecked && <p>{NEVER_CHECKED}</p>}
    </div>
  );
}

const Card = ({ checklist, isRead }: { readonly checklist: Checklist; readonly isRead: boolean }) => (
  <p className={`room-card${isRead ? ' room-card-read' : ''}`}>{checklist.skill.card.trim()}</p>
);

/** What is being heard, and what the coach says. */
function Foot({ shown: { checklist, state, partial, caption } }: { readonly shown: RoomShown }) {
  const heard = lastWords(state.utterances.at(-1)?.text ?? '', HEARD);
  return (
    <footer className="room-foot">
      <p className="heard">
        <span className="visually-hidden">Heard: </span>
        {partial === '' ? (
          heard
        ) : (
          <span className="partial">{lastWords(partial.replace(/[.,?!]+$/, ''), HEARD)}…</span>
        )}
      </p>
      <p className="said" aria-live="polite">
        {caption !== '' && (
          <>
            <span className="said-who">Coach</span>{' '}
            {isReadingCard(checklist, caption) ? 'reads the card.' : caption}
          </>
        )}
      </p>
    </footer>
  );
}

/** The keys, for touch and mouse as buttons. They never take the focus: a key means the same wherever it is. */
function Legend({ room, main }: { readonly room: RoomControl; readonly main: string }) {
  const keys: readonly [key: string, does: string, press: () => void][] = [
    ['Space', main, () => room.pressMain()],
    ['R', 'card', () => room.press('read card')],
    ['T', 'time left', () => room.press('time left')],
    ['S', 'scrub time', () => room.press('scrub time')],
    ['C', 'correct', () => room.press('correct')],
    ['N', 'next skill', () => room.press('next skill')],
    ['Esc', 'stop', () => room.press('stop')],
  ];
  return (
    <p className="legend">
      {keys.map(([key, does, press]) => (
        <Fragment key={key}>
          <button
            type="button"
            className={`room-key room-key-${key.toLowerCase()}`}
            tabIndex={-1}
            onMouseDown={(event) => event.preventDefault()}
            onClick={press}
          >
            <kbd>{key}</kbd> {does}
          </button>{' '}
        </Fragment>
      ))}
      <span className="legend-one">One button: a short press is Space, a long or double press stops.</span>
    </p>
  );
}
