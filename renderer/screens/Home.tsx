import { useMemo, useState } from 'react';
import { Link } from 'wouter';
import { worthPractising } from '../../app/progress/nextPractice.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { ADDRESS } from '../addresses.ts';
import { CutOff } from '../home/CutOff.tsx';
import { findSkills, groupsOf } from '../home/finding.ts';
import { FirstVisit } from '../home/FirstVisit.tsx';
import { firstSteps } from '../home/firstVisit.ts';
import { lastRuns, triesOf, type LastRun } from '../home/lastRun.ts';
import { useKnown } from '../known.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { WhoRehearses } from '../people/WhoRehearses.tsx';
import { Shape } from '../parts/Shape.tsx';

/** How many skills are offered as most worth practising. */
const OFFERED = 3;

/** Choosing what to rehearse. */
export function Home() {
  const { library, rehearsals, latest, settings, canHear } = useKnown();
  const steps = firstSteps({
    canHear,
    microphonesChecked: settings.checkedMicrophones.length,
    // What is still being read is none of a first visit.
    rehearsals: latest.reading ? 1 : rehearsals.length,
  });
  return (
    <main className="page">
      <Heading>What do you rehearse?</Heading>
      <WhoRehearses />
      <CutOff />
      {steps && <FirstVisit steps={steps} />}
      {rehearsals.length > 0 && <Suggested />}
      <AllSkills />
      {library.faults.map(({ file, line, message }) => (
        <p key={`${file}:${line}`} className="hint">
          Left out: {file}, line {line}: {message}
        </p>
      ))}
      <Caution />
    </main>
  );
}

/** What was rehearsed last, and what is most worth practising. */
function Suggested() {
  const { library, rehearsals } = useKnown();
  const lastOf = useMemo(() => lastRuns(rehearsals), [rehearsals]);
  // One that was cut off is offered above.
  const ended = rehearsals.find(({ state }) => state === 'ended');
  const latest = library.skills.find(({ id }) => id === ended?.skill);
  const worth = useMemo(
    () =>
      worthPractising(library.skills, triesOf(rehearsals, library.skills), new Date().toISOString())
        .slice(0, OFFERED)
        .flatMap(({ skill }) => library.skills.find(({ id }) => id === skill) ?? []),
    [library, rehearsals],
  );
  return (
    <div className="suggested">
      {latest && (
        <section aria-labelledby="latest">
          <h2 id="latest">Last rehearsed</h2>
          <SkillLinks skills={[latest]} lastOf={lastOf} />
        </section>
      )}
      {worth.length > 0 && (
        <section aria-labelledby="worth">
          <h2 id="worth">Most worth practising</h2>
          <SkillLinks skills={worth} lastOf={lastOf} />
        </section>
      )}
    </div>
  );
}

function AllSkills() {
  const { library, rehearsals } = useKnown();
  const [typed, setTyped] = useState('');
  const lastOf = useMemo(() => lastRuns(rehearsals), [rehearsals]);
  const found = useMemo(() => findSkills(library.skills, typed), [library, typed]);
  const searching = typed.trim() !== '';
  return (
    <section className="all-skills" aria-labelledby="all-skills">
      <div className="finder">
        <h2 id="all-skills">All skills</h2>
        <label className="field">
          <span>Find a skill</span>
          <input type="search" value={typed} onChange={({ target }) => setTyped(target.value)} />
        </label>
      </div>
      <p role="status" className={searching ? 'hint' : 'visually-hidden'}>
        {searching && `${found.length} of ${library.skills.length} skills.`}
        {searching && found.length === 0 && ' Try another word, or leave the field empty to see all.'}
      </p>
      {searching ? (
        <SkillLinks skills={found} lastOf={lastOf} />
      ) : (
        groupsOf(library.skills).map(({ group, skills }) => (
          <section key={group} className="skill-group">
            <h3>{group}</h3>
            <SkillLinks skills={skills} lastOf={lastOf} />
          </section>
        ))
      )}
    </section>
  );
}

function SkillLinks({
  skills,
  lastOf,
}: {
  readonly skills: readonly Skill[];
  readonly lastOf: (skill: string) => LastRun;
}) {
  return (
    <ul className="skill-links">
      {skills.map(({ id, title }) => {
        const { mark, words } = lastOf(id);
        return (
          <li key={id}>
            <Link href={ADDRESS.rehearse(id)} className="skill-link">
              {/* The words say it too. */}
              <span aria-hidden="true">
                <Shape mark={mark} />
              </span>
              <span>
                <span className="skill-title">{title}</span> <span className="hint">{words}</span>
              </span>
            </Link>
          </li>
        );
      })}
    </ul>
  );
}
