import { useMemo } from 'react';
import { Link } from 'wouter';
import { worthPractising } from '../../app/progress/nextPractice.ts';
import { ADDRESS } from '../addresses.ts';
import { lastRuns, triesOf } from '../home/lastRun.ts';
import { FoundRehearsals } from '../found/FoundRehearsals.tsx';
import { useKnown } from '../known.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { DeletedNotice } from '../people/DeletedNotice.tsx';
import { Readings } from '../readings/Readings.tsx';
import { Chart } from '../charts/Chart.tsx';
import { runsOf, type SkillRuns } from '../charts/runs.ts';
import '../styles/screens/progress.css';
import { localDay } from '../words.ts';

/** Runs of a skill in its chart. */
const CHARTED = 12;
/** Skills that are proposed. */
const PROPOSED = 5;

const EVERYBODY = {};

/** How the skills went, over time, and every rehearsal kept on this machine, newest first. */
export function Progress() {
  const { rehearsals, latest, people } = useKnown();
  const { chosen } = people;
  const skills = useMemo(() => runsOf(rehearsals, CHARTED), [rehearsals]);
  if (latest.of === 0 && !latest.reading)
    return (
      <main className="page">
        <Heading>Progress</Heading>
        <p>
          Nothing was rehearsed yet. <Link href={ADDRESS.home}>Choose a skill.</Link>
        </p>
        <Readings />
      </main>
    );
  return (
    <main className="page">
      <Heading>Progress</Heading>
      <Worth />
      {skills.length > 0 && (
        <section aria-labelledby="skills">
          <h2 id="skills">Skill by skill</h2>
          <p className="hint">
            Steps heard of all, for the last {CHARTED} runs of each skill. A dot: no critical step missed. A
            cross: at least one missed.
          </p>
          <ul className="charts">
            {skills.map((each) => (
              <SkillChart key={each.skill} {...each} />
            ))}
          </ul>
        </section>
      )}
      <Readings />
      <section aria-labelledby="past">
        <h2 id="past">Past rehearsals</h2>
        <DeletedNotice />
        <FoundRehearsals finding={chosen === null ? EVERYBODY : { trainee: chosen }} />
      </section>
      <Caution />
    </main>
  );
}

/** What to practise next, and why. */
function Worth() {
  const { library, rehearsals } = useKnown();
  const tries = useMemo(() => triesOf(rehearsals, library.skills), [rehearsals, library]);
  const worth = worthPractising(library.skills, tries, new Date().toISOString());
  return (
    <section aria-labelledby="worth">
      <h2 id="worth">Worth practising next</h2>
      {worth.length === 0 && <p>Nothing presses: every step of every skill was heard the last time.</p>}
      <ol className="worth">
        {worth.slice(0, PROPOSED).map(({ skill, title, reason }) => (
          <li key={skill}>
            <Link href={ADDRESS.rehearse(skill)}>{title}</Link> {reason}
          </li>
        ))}
      </ol>
    </section>
  );
}

function SkillChart({ skill, runs }: SkillRuns) {
  const { library, rehearsals } = useKnown();
  const title = library.skills.find(({ id }) => id === skill)?.title ?? skill;
  const [first, last] = [runs[0], runs.at(-1)];
  return (
    <li className="panel">
      <h3>
        <Link href={ADDRESS.rehearse(skill)}>{title}</Link>
      </h3>
      <p>{lastRuns(rehearsals)(skill).words}</p>
      <Chart title={title} runs={runs} />
      {first && last && (
        <p className="runs-days hint">
          <span>{localDay(first.startedAt)}</span>
          {runs.length > 1 && <span>{localDay(last.startedAt)}</span>}
        </p>
      )}
      <Link href={ADDRESS.skillProgress(skill)} aria-label={`Look closer: ${title}`}>
        Look closer
      </Link>
    </li>
  );
}
