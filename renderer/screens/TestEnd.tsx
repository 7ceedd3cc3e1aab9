import type { SkillResult, TestResult } from '../../app/run/mockTest.ts';
import type { TestPlan } from '../../app/run/testPlan.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { Shape } from '../parts/Shape.tsx';
import { Verdict } from '../parts/Verdict.tsx';

/** What a mock test came to, skill by skill. */
export function TestEnd({
  plan,
  result,
  isCutOff,
  remarks,
  onOpen,
  onAgain,
  onBack,
  back,
}: {
  readonly plan: TestPlan;
  readonly result: TestResult;
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
  const verdict = passed ? 'Passed, for this practice test' : 'Not passed, for this practice test';
  return (
    <main className="page page-wide">
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
      <ol className="marks">
        {skills.map((skill, i) => (
          <SkillOf key={i} number={i + 1} skill={skill} onOpen={() => onOpen(i)} />
        ))}
      </ol>
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
  const { title, reached, from, to, result, steps, late, repairs, pauses, breaks } = skill;
  const textOf = (id: string): string => steps.find((step) => step.id === id)?.text ?? id;
  const good = reached && result.passed;
  const verdict = good ? 'passed' : 'not passed';
  return (
    <li className={`mark mark-${good ? 'heard' : 'not-heard'}`}>
      <Shape mark={good ? 'heard' : 'not heard'} title={verdict} />
      <div className="mark-body">
        <p className="mark-title">
          {number}. {title}: {reached ? verdict : 'not reached'}
        </p>
        {reached && (
          <p>
            {minutes(from ?? 0)}–{minutes(to ?? from ?? 0)}; {result.heard} of {result.of} steps heard.
          </p>
        )}
        {reached &&
          result.criticalMissed.map((id) => (
            <p key={id}>
              <strong>Critical:</strong> {textOf(id)}
            </p>
          ))}
        {steps.flatMap(({ id, text, manner, note }) =>
          manner === 'told' || manner === 'carried over' ? (
            <p key={id}>
              {text}: {note}
            </p>
          ) : (
            []
          ),
        )}
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
      </div>
      {reached && (
        <button type="button" className="button" onClick={onOpen} aria-label={`Look closer: ${title}`}>
          Look closer
        </button>
      )}
    </li>
  );
}
