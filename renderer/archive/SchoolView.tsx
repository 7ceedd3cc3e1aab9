import type { Asked, ChoicesReply, SchoolReply } from '../../app/archive/views/api.ts';
import { StepText } from '../parts/StepText.tsx';
import { Table } from '../progress/Table.tsx';
import { localDay } from '../words.ts';
import type { ArchiveApi } from './archiveApi.ts';
import { useReply } from './useReply.ts';
import { Waiting } from './Waiting.tsx';

/** Class by class: who practises, who is ready, what is missed most; and month by month. Classes stand by name, not by merit. */
export function SchoolView({
  api,
  choices,
  asked,
}: {
  readonly api: ArchiveApi;
  readonly choices: ChoicesReply;
  readonly asked: Asked;
}) {
  const { reply, failed } = useReply(() => api.school(choices.school, asked), JSON.stringify(asked));
  if (!reply) return <Waiting failed={failed} />;
  const titleOf = (skill: string): string => choices.skills.find(({ id }) => id === skill)?.title ?? skill;
  return (
    <section className="progress" aria-label="The school">
      <h2>{reply.name}</h2>
      <div className="agreement" role="region" aria-label="Months" tabIndex={0}>
        <Table
          caption="Month by month"
          columns={['Month', 'Tries', 'Passed', 'Reviewed']}
          rows={reply.months.map(({ month, attempts, passed, reviewed }) => [
            localDay(month),
            attempts,
            passed,
            reviewed,
          ])}
        />
      </div>
      {reply.classes.map((each) => (
        <ClassOfSchool key={each.id} of={each} titleOf={titleOf} isOneSkill={Boolean(asked.skill)} />
      ))}
      <p className="hint">
        Ready: passed twice in a row, the last time within two weeks. It says what practice shows, not what a
        test will.
      </p>
    </section>
  );
}

function ClassOfSchool({
  of: { name, people, standings, missed },
  titleOf,
  isOneSkill,
}: {
  readonly of: SchoolReply['classes'][number];
  readonly titleOf: (skill: string) => string;
  readonly isOneSkill: boolean;
}) {
  return (
    <section aria-label={name}>
      <h3>
        {name} ({people} people)
      </h3>
      {standings.length === 0 ? (
        <p>Nobody has practised yet.</p>
      ) : (
        <div className="agreement" role="region" aria-label={`How ${name} stands`} tabIndex={0}>
          <Table
            caption="How the people stand"
            isCaptionHidden
            columns={['Skill', 'Practised', 'Not practised', 'Ready', 'Not steady', 'Passed long ago']}
            rows={standings.map(({ skill, practised, ready, notSteady, longAgo }) => [
              titleOf(skill),
              practised,
              Math.max(0, people - practised),
              ready,
              notSteady,
              longAgo,
            ])}
          />
        </div>
      )}
      {missed.length > 0 && (
        <>
          <h4>
            {isOneSkill
              ? 'Missed most in everybody’s last try'
              : 'Missed most in all tries, of the time chosen or the last three months'}
          </h4>
          <ul className="weakest">
            {missed.map(({ skill, step, text, critical, missed: times, of }) => (
              <li key={`${skill} ${step}`}>
                {!isOneSkill && `${titleOf(skill)}: `}
                <StepText text={text} critical={critical} /> (missed in {times} of {of})
              </li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}
