import type { SkillResult, TestResult } from '../../app/run/mockTest.ts';
import type { TestPlan } from '../../app/run/testPlan.ts';
import { minutes } from '../../app/marking/testClock.ts';
import type { Lexicon } from '../../app/skills/skill.ts';
import { reportOf } from '../api.ts';
import { Fold } from '../end/Fold.tsx';
import { PractiseNext } from '../end/PractiseNext.tsx';
import { practiseNext } from '../room/endView.ts';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { Shape } from '../parts/Shape.tsx';
import { Verdict } from '../parts/Verdict.tsx';
import { ReportActions } from '../report/ReportActions.tsx';

/** What a mock test came to, skill by skill. */
export function TestEnd({
  plan,
  lexicon,
  result,
  id,
  isCutOff,
  remarks,
  onOpen,
  onAgain,
  onBack,
  back,
}: {
  readonly plan: TestPlan;
  readonly lexicon: Lexicon;
  readonly result: TestResult;
  /** Id the host keeps it under; null when it could not be kept. */
  readonly id: string | null;
  /** Whether it was broken off and never ended. */
  readonly isCutOff: boolean;
  readonly remarks: readonly string[];
  /** Opens one skill's result, by its index. */
  readonly onOpen: (skill: number) => void;
  readonly onAgain: () => void;
  readonly onBack: () => void;
  readonly back: 'start' | 'past';
}) {
  const { skills, passed, passedSkills, needed, timeUp } = result;
  const done = plan.checklists.flatMap((checklist, i) => {
    const skill = skills[i];
    return skill?.reached ? [{ checklist, marks: skill.steps }] : [];
  });
  const verdict = passed ? 'Passed, for this practice test' : 'Not passed, for this practice test';
  return (
    <main className="page page-wide test-end">
      <Heading>Mock test: how it went</Heading>
      <Verdict good={passed} text={verdict} remarks={remarks}>
        <p>
          {passedSkills} of {skills.length} skills passed, {needed} needed
          {timeUp === null ? '' : `; the time was up at ${minutes(timeUp)}`}
          {isCutOff ? '; cut off before its end' : ''}.
        </p>
        <p>
          Rules in force: {plan.rules.title}
          {plan.seed === null ? '' : `, draw number ${plan.seed}`}. Your programme’s handbook decides.
        </p>
      </Verdict>
      <PractiseNext next={practiseNext(done)} lexicon={lexicon} several />
      <div className="actions">
        <button type="button" className="button main" onClick={onAgain}>
          The same test again
        </button>
        <button type="button" className="button" onClick={onBack}>
          {back === 'past' ? 'Back to the past rehearsals' : 'Back to the start'}
        </button>
      </div>
      <Caution />
      <h2>Skills</h2>
      {skills.map((skill, i) => (
        <SkillOf key={i} number={i + 1} skill={skill} onOpen={() => onOpen(i)} />
      ))}
      {id !== null && <ReportActions addressOf={reportOf(id)} name={`report-${id}`} />}
    </main>
  );
}

function SkillOf({
  number,
  skill,
  onOpen,
}: {
  readonly number: number;
  readonly skill: SkillResult;
  readonly onOpen: () => void;
}) {
  const { title, reached, from, to, result } = skill;
  const good = reached && result.passed;
  const verdict = good ? 'passed' : 'not passed';
  const heard = `, ${result.heard} of ${result.of} steps heard`;
  return (
    <Fold
      title={
        <>
          <Shape mark={good ? 'heard' : 'not heard'} title={verdict} /> {number}. {title}:{' '}
          {reached ? verdict + heard : 'not reached'}
        </>
      }
    >
      {reached ? (
        <>
          <p>
            From {minutes(from ?? 0)} to {minutes(to ?? from ?? 0)}.
          </p>
          <Remarks skill={skill} />
          <button type="button" className="button" onClick={onOpen} aria-label={`Look closer: ${title}`}>
            Look closer
          </button>
        </>
      ) : (
        <p>The test ended before this skill.</p>
      )}
    </Fold>
  );
}

/** What is to be known of how a skill went: critical misses, what was told, put right or said too late, and pauses. */
function Remarks({
  skill: { steps, result, repairs, late, pauses, breaks },
}: {
  readonly skill: SkillResult;
}) {
  const textOf = (id: string): string => steps.find((step) => step.id === id)?.text ?? id;
  return (
    <>
      {result.criticalMissed.map((id) => (
        <p key={id}>
          <strong>Critical:</strong> {textOf(id)}
        </p>
      ))}
      {steps
        .filter(({ manner }) => manner === 'told' || manner === 'carried over')
        .map(({ id, text, note }) => (
          <p key={id}>
            {text}: {note}
          </p>
        ))}
      {repairs.map(({ step, slip, evidence }) => (
        <p key={`${step} ${evidence.start}`}>
          Put right at {minutes(evidence.start)}: {textOf(step)} (it was {slip})
        </p>
      ))}
      {late.map(({ step, evidence }) => (
        <p key={`${step} ${evidence.start}`}>
          Too late at {minutes(evidence.start)}, the skill was closed: {textOf(step)} <q>{evidence.text}</q>
        </p>
      ))}
      {pauses.map((pause) => (
        <p key={pause.from}>
          Paused from {minutes(pause.from)} to {minutes(pause.to)}
          {breaks.includes(pause.from) ? ': broken off and gone on with' : ''}
        </p>
      ))}
    </>
  );
}
