import { useEffect, useRef, useState } from 'react';
import type { StepMark } from '../../app/marking/assessment.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import { bestSaying } from '../../app/run/coach.ts';
import type { Loudness } from '../../app/marking/events.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import type { Lexicon, Skill } from '../../app/skills/skill.ts';
import type { State } from '../../app/marking/state.ts';
import { HABITS, habitOf, talkOf } from '../../app/run/talk.ts';
import { voiceOverNoise } from '../../app/loudness/voiceOverNoise.ts';
import { api } from '../api.ts';
import { groupsOf, missedOf, transcriptOf, type Group, type Line } from '../room/endView.ts';
import { TapLoudness } from '../loudness/TapLoudness.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { MarkAgain } from '../editing/MarkAgain.tsx';
import { Shape } from '../parts/Shape.tsx';
import { Verdict } from '../parts/Verdict.tsx';
import { StepText } from '../parts/StepText.tsx';
import { Timeline } from '../parts/Timeline.tsx';
import { minutes } from '../../app/marking/testClock.ts';
import { percent } from '../words.ts';

/** Seconds of sound played before and after the words a mark rests on. */
const AROUND = 0.3;

const BACK = {
  start: 'Back to the start',
  past: 'Back to the past rehearsals',
  'test end': 'Back to the test',
} as const;

/** How many of the longest silences are listed. */
const SILENCES = 3;

/** What a rehearsal came to. */
export function End({
  checklist,
  lexicon,
  state,
  loudness,
  listening,
  only,
  id,
  record,
  current,
  remarks,
  onAgain,
  onBack,
  back,
}: {
  readonly checklist: Checklist;
  readonly lexicon: Lexicon;
  readonly state: State;
  /** How loud the recording was while it went on, and what listened, as records name it. */
  readonly loudness: readonly Loudness[];
  readonly listening: string;
  readonly only: ReadonlySet<string> | null;
  /** Id the host keeps its sound under; null when there is none. */
  readonly id: string | null;
  /** Id the host keeps its journal under; null when it could not be kept. */
  readonly record: string | null;
  /** The skill as it is now, which may be another version than the one it is marked by. */
  readonly current: Skill | undefined;
  /** What is to be said about the record itself. */
  readonly remarks: readonly string[];
  readonly onAgain: (only: ReadonlySet<string> | null) => void;
  readonly onBack: () => void;
  readonly back: keyof typeof BACK;
}) {
  const { steps, result } = markRehearsal(checklist, state);
  const marks = only === null ? steps : steps.filter((mark) => only.has(mark.id));
  const missed = missedOf(marks);
  const player = usePlayer(id === null ? null : api.soundOf(id));
  const seconds = state.ended ?? lastMoment(state);
  const talk = talkOf(checklist, state, seconds);
  const habit = habitOf(marks);
  const lines = transcriptOf(state, steps);
  const titles = new Map(steps.map((mark) => [mark.id, mark.text]));
  const verdict = only === null ? verdictOf(result.passed) : partVerdict(missed.length === 0);

  return (
    <main className="page page-wide">
      <Heading>{checklist.skill.title}: how it went</Heading>
      <Verdict good={verdict.good} text={verdict.text} remarks={remarks}>
        <p>
          {only === null
            ? `${result.heard} of ${result.of} steps heard`
            : `${marks.length - missed.length} of ${marks.length} chosen steps heard`}
          {only === null && result.criticalMissed.length > 0
            ? `; ${result.criticalMissed.length} critical ${result.criticalMissed.length === 1 ? 'step' : 'steps'} not credited`
            : ''}
          {state.ended === null ? '; cut off before its end' : ''}
          {state.breaks.length > 0
            ? `; broken off at ${state.breaks.map(minutes).join(', ')} and gone on with`
            : ''}
          . Marked under version {checklist.skill.version} of the skill.
        </p>
        {habit && <p>{HABITS[habit]}</p>}
      </Verdict>
      <div className="actions">
        <button type="button" className="button main" onClick={() => onAgain(null)}>
          Try again
        </button>
        {missed.length > 0 && (
          <button type="button" className="button" onClick={() => onAgain(new Set(missed))}>
            Try only what I missed ({missed.length})
          </button>
        )}
        <button type="button" className="button" onClick={onBack}>
          {BACK[back]}
        </button>
      </div>
      <Caution />

      <h2>Time</h2>
      <Timeline state={state} marks={marks} seconds={seconds} silences={talk.silences} />
      <div>
        <p>
          You spoke for {percent(talk.of > 0 ? talk.narrated / talk.of : 0)} of the time in which there was
          something to say.
          {talk.silences.length > 0 && ' Longest silences:'}
        </p>
        {talk.silences.length > 0 && (
          <ul className="silences">
            {talk.silences.slice(0, SILENCES).map(({ from, to, after }) => (
              <li key={from}>
                {Math.round(to - from)} s at {minutes(from)},{' '}
                {after === null ? 'before the first step' : `after “${titles.get(after) ?? after}”`}
              </li>
            ))}
          </ul>
        )}
      </div>

      <TapLoudness
        measured={voiceOverNoise(loudness, steps, { from: state.begun, to: seconds }, listening)}
        marks={marks}
      />

      <h2>Steps</h2>
      {groupsOf(marks).map((group) => (
        <GroupOf key={group.key} group={group} checklist={checklist} lexicon={lexicon} player={player} />
      ))}

      {record !== null && <MarkAgain id={record} checklist={checklist} lexicon={lexicon} current={current} />}

      <h2>What was said</h2>
      <Transcript lines={lines} titles={titles} player={player} />
    </main>
  );
}

/** When the last thing was said, for a rehearsal that was cut off. */
const lastMoment = ({ utterances, asides, spoken }: State): number =>
  Math.max(
    0,
    ...utterances.map(({ end }) => end),
    ...asides.map(({ utterance }) => utterance.end),
    ...spoken.map(({ to }) => to),
  );

function GroupOf({
  group,
  checklist,
  lexicon,
  player,
}: {
  readonly group: Group;
  readonly checklist: Checklist;
  readonly lexicon: Lexicon;
  readonly player: Player;
}) {
  return (
    <section>
      <h3>
        {group.title} ({group.marks.length})
      </h3>
      <ul className="marks">
        {group.marks.map((mark) => {
          const step = checklist.steps.find(({ id }) => id === mark.id)!;
          const saying =
            mark.outcome === 'heard' || mark.outcome === 'needs eyes'
              ? null
              : bestSaying(checklist, lexicon, step);
          return (
            <li key={mark.id} className={`mark mark-${mark.outcome.replaceAll(' ', '-')}`}>
              <Shape mark={mark.outcome} />
              <div className="mark-body">
                <p className="mark-title">
                  <StepText text={mark.text} critical={mark.critical} />
                </p>
                {mark.note !== '' && <p>{mark.note}</p>}
                {mark.evidence && (
                  <p className="mark-words">
                    {minutes(mark.evidence.start)} <q>{mark.evidence.text}</q>
                  </p>
                )}
                {saying !== null && (
                  <p className="mark-saying">
                    Say next time: <q>{saying}</q>
                  </p>
                )}
              </div>
              {mark.evidence && <Play mark={mark} player={player} />}
            </li>
          );
        })}
      </ul>
    </section>
  );
}

function Play({ mark, player }: { readonly mark: StepMark; readonly player: Player }) {
  const { start, end } = mark.evidence!;
  if (!player.ready) return null;
  return (
    <button
      type="button"
      className="button play"
      onClick={() => player.play(start, end)}
      aria-label={`Play: ${mark.text}`}
    >
      <svg viewBox="0 0 32 32" aria-hidden="true">
        <path d="M9 5l18 11L9 27z" />
      </svg>
      Play
    </button>
  );
}

function Transcript({
  lines,
  titles,
  player,
}: {
  readonly lines: readonly Line[];
  readonly titles: ReadonlyMap<string, string>;
  readonly player: Player;
}) {
  if (lines.length === 0) return <p>Nothing was heard.</p>;
  return (
    <ol className="transcript">
      {lines.map(({ key, who, at, end, pieces, note }) => (
        <li key={key} className={`line line-${who}`}>
          <button
            type="button"
            className="line-time"
            disabled={!player.ready}
            aria-label={`Play from ${minutes(at)}`}
            onClick={() => player.play(at, end)}
          >
            {minutes(at)}
          </button>
          <p>
            {who === 'coach' && <span className="said-who">Coach</span>}{' '}
            {pieces.map(({ text, step, outcome }, i) =>
              step === null ? (
                <span key={i}>{text} </span>
              ) : (
                <mark key={i} className={`on mark-${(outcome ?? 'heard').replaceAll(' ', '-')}`}>
                  {text}{' '}
                  <Shape
                    mark={outcome ?? 'heard'}
                    title={`${titles.get(step) ?? step}: ${outcome ?? 'heard'}`}
                  />{' '}
                </mark>
              ),
            )}
            {note !== '' && <span className="hint">({note})</span>}
          </p>
        </li>
      ))}
    </ol>
  );
}

interface Player {
  /** Whether there is sound to play. */
  readonly ready: boolean;
  /** Plays from one moment to another, seconds, and a little around. */
  readonly play: (from: number, to: number) => void;
}

function usePlayer(source: string | null): Player {
  const sound = useRef<HTMLAudioElement | null>(null);
  const stopAt = useRef(Infinity);
  const [ready, setReady] = useState(false);
  useEffect(() => {
    if (source === null) return;
    const audio = new Audio(source);
    audio.preload = 'metadata';
    audio.onloadedmetadata = () => setReady(true);
    audio.onerror = () => setReady(false);
    audio.ontimeupdate = () => {
      if (audio.currentTime >= stopAt.current) audio.pause();
    };
    sound.current = audio;
    return () => {
      audio.pause();
      audio.removeAttribute('src');
      sound.current = null;
      setReady(false);
    };
  }, [source]);
  return {
    ready,
    play: (from, to) => {
      const audio = sound.current;
      if (!audio) return;
      stopAt.current = to + AROUND;
      audio.currentTime = Math.max(0, from - AROUND);
      void audio.play();
    },
  };
}

const verdictOf = (passed: boolean): { good: boolean; text: string } => ({
  good: passed,
  text: passed ? 'Passed, for this practice run' : 'Not passed, for this practice run',
});

const partVerdict = (good: boolean): { good: boolean; text: string } => ({
  good,
  text: `${good ? 'All' : 'Not all'} you set out to try was heard`,
});
