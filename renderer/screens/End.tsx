import type { Checklist } from '../../app/skills/checklist.ts';
import type { Loudness } from '../../app/marking/events.ts';
import type { StepMark } from '../../app/marking/assessment.ts';
import { markRehearsal } from '../../app/marking/result.ts';
import { hasReading } from '../../app/skills/form.ts';
import type { Lexicon, Skill } from '../../app/skills/skill.ts';
import type { State } from '../../app/marking/state.ts';
import { measuredIn, sideBySide } from '../../app/review/sideBySide.ts';
import { HABITS, habitOf, talkOf } from '../../app/run/talk.ts';
import { voiceOverNoise } from '../../app/loudness/voiceOverNoise.ts';
import { api, reportOf } from '../api.ts';
import { ResidentTruth } from '../atBench/ResidentTruth.tsx';
import { Fold } from '../end/Fold.tsx';
import { MarkItem } from '../end/MarkItem.tsx';
import { Numbers } from '../end/Numbers.tsx';
import { PractiseNext } from '../end/PractiseNext.tsx';
import { useSound } from '../end/sound.ts';
import { TimeSpent } from '../end/TimeSpent.tsx';
import { Transcript } from '../end/Transcript.tsx';
import { useMeasured, type RecordedSkill } from '../end/useMeasured.ts';
import { groupsOf, lastMoment, missedOf, practiseNext, sayingFor, transcriptOf } from '../room/endView.ts';
import { TapLoudness } from '../loudness/TapLoudness.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { MarkAgain } from '../editing/MarkAgain.tsx';
import { Verdict } from '../parts/Verdict.tsx';
import { ReportActions } from '../report/ReportActions.tsx';
import { minutes } from '../../app/marking/testClock.ts';
import { percent } from '../words.ts';

const BACK = {
  start: 'Back to the start',
  past: 'Back to the past rehearsals',
  'test end': 'Back to the test',
} as const;

/** Where one can go from here. */
interface Leading {
  readonly onAgain: (only: ReadonlySet<string> | null) => void;
  readonly onBack: () => void;
  readonly back: keyof typeof BACK;
}

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
  recorded,
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
  /** Where what is measured of it is kept, and its report made of; null when it could not be kept. */
  readonly recorded: RecordedSkill | null;
  /** The skill as it is now, which may be another version than the one it is marked by. */
  readonly current: Skill | undefined;
  /** What is to be said about the record itself. */
  readonly remarks: readonly string[];
} & Leading) {
  const measured = useMeasured(hasReading(checklist.skill) ? recorded : null);
  const rows = sideBySide(checklist, state, measured.review);
  const { steps, result } = markRehearsal(checklist, state, measuredIn(rows));
  const marks = only === null ? steps : steps.filter((mark) => only.has(mark.id));
  const missed = missedOf(marks);
  const sound = useSound(id === null ? null : api.soundOf(id));
  const seconds = state.ended ?? lastMoment(state);
  const talk = talkOf(checklist, state, seconds);
  const lines = transcriptOf(state, steps);
  const titles = new Map(steps.map((mark) => [mark.id, mark.text]));
  const habit = habitOf(marks);
  const verdict = only === null ? verdictOf(result.passed) : partVerdict(missed.length === 0);

  return (
    <main className="page page-wide end">
      <Heading>{checklist.skill.title}: how it went</Heading>
      <PractiseNext next={practiseNext([{ checklist, marks }])} lexicon={lexicon} sound={sound} />
      <Verdict good={verdict.good} text={verdict.text} remarks={remarks}>
        <p>
          {only === null
            ? heardOf(result)
            : `${marks.length - missed.length} of ${marks.length} chosen steps heard`}
          {brokenText(state)}. Marked under version {checklist.skill.version} of the skill.
        </p>
        {habit && <p>{HABITS[habit]}</p>}
      </Verdict>
      <WhatNow missed={missed} onAgain={onAgain} onBack={onBack} back={back} />
      {sound.failed !== '' && <p role="alert">{sound.failed}</p>}
      <Caution />

      <ResidentTruth checklist={checklist} state={state} />
      <Numbers
        rows={only === null ? rows : rows.filter(({ step }) => only.has(step))}
        kept={measured}
        onMeasured={measured.add}
      />
      <h2>Steps</h2>
      <Marks marks={marks} sayingOf={(mark) => sayingFor(checklist, lexicon, mark)} sound={sound} />
      <h2>The rehearsal</h2>
      <Fold title={`What was said (${lines.length})`}>
        <Transcript lines={lines} titles={titles} sound={sound} />
      </Fold>
      <Fold
        title={`Time: ${minutes(seconds)}, ${percent(talk.of > 0 ? talk.narrated / talk.of : 0)} of it narrated`}
      >
        <TimeSpent state={state} marks={marks} titles={titles} seconds={seconds} talk={talk} />
      </Fold>
      <TapLoudness
        measured={voiceOverNoise(loudness, steps, { from: state.begun, to: seconds }, listening)}
        marks={marks}
      />
      {recorded !== null && (
        <ReportActions addressOf={reportOf(recorded.id)} name={`report-${recorded.id}`} />
      )}
      {record !== null && <MarkAgain id={record} checklist={checklist} lexicon={lexicon} current={current} />}
    </main>
  );
}

function WhatNow({ missed, onAgain, onBack, back }: { readonly missed: readonly string[] } & Leading) {
  return (
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
  );
}

function Marks({
  marks,
  sayingOf,
  sound,
}: {
  readonly marks: readonly StepMark[];
  readonly sayingOf: (mark: StepMark) => ReturnType<typeof sayingFor>;
  readonly sound: ReturnType<typeof useSound>;
}) {
  return groupsOf(marks).map(({ key, title, marks: own }) => (
    <Fold key={key} title={`${title} (${own.length})`}>
      <ul className="marks">
        {own.map((mark) => (
          <MarkItem key={mark.id} mark={mark} saying={sayingOf(mark)} sound={sound} />
        ))}
      </ul>
    </Fold>
  ));
}

function heardOf({ heard, of, criticalMissed }: ReturnType<typeof markRehearsal>['result']): string {
  const missed = criticalMissed.length;
  const critical = missed > 0 ? `; ${missed} critical ${missed === 1 ? 'step' : 'steps'} not credited` : '';
  return `${heard} of ${of} steps heard${critical}`;
}

/** Where it was cut off, or broken off and gone on with. */
const brokenText = ({ ended, breaks }: State): string =>
  (ended === null ? '; cut off before its end' : '') +
  (breaks.length > 0 ? `; broken off at ${breaks.map(minutes).join(', ')} and gone on with` : '');

const verdictOf = (passed: boolean): { good: boolean; text: string } => ({
  good: passed,
  text: passed ? 'Passed, for this practice run' : 'Not passed, for this practice run',
});

const partVerdict = (good: boolean): { good: boolean; text: string } => ({
  good,
  text: `${good ? 'All' : 'Not all'} you set out to try was heard`,
});
